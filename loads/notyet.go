package loads

import "fmt"

// NotYet says, one line a load, what a run without waiting makes of packs that ask for it.
func NotYet(list []Load) []string {
	var lines []string
	for i := range list {
		l := &list[i]
		if l.Waits() {
			lines = append(lines, fmt.Sprintf("%s: waiting is not simulated yet, so the packs charge when they are plugged in", l.Name))
		}
	}
	return lines
}
