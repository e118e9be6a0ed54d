package loads

import "fmt"

// NotYet says, one line a load, what a run without shedding and waiting makes of loads that ask for them.
func NotYet(list []Load) []string {
	var lines []string
	for i := range list {
		l := &list[i]
		if l.Waits() {
			lines = append(lines, fmt.Sprintf("%s: waiting is not simulated yet, so the packs charge when they are plugged in", l.Name))
		}
		if l.Priority == FirstToGo {
			lines = append(lines, fmt.Sprintf("%s: first_to_go is not simulated yet, so it is never left off before the rest", l.Name))
		}
	}
	return lines
}
