package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"slices"
	"strings"
	"syscall"

	"github.com/spf13/pflag"

	"tideover/scenarios"
)

// Exit statuses.
const (
	done        = 0
	missed      = 1 // a target the user set
	wrongInput  = 2
	ourFault    = 3
	interrupted = 130
)

// verb is one command.
type verb struct {
	name, says string
	example    string
	do         func(c *call) error
	flags      func(f *pflag.FlagSet, c *call)
}

var verbs = []verb{runVerb, compareVerb, spellVerb, tiltVerb, checkVerb, weatherVerb, newVerb}

// call is one invocation of a verb.
type call struct {
	starter        starterFlags // of new
	ctx            context.Context
	stdout, stderr io.Writer
	verb           verb
	args           []string

	weather, out, variant string
	seed                  uint64
	seeded                bool // a seed was typed
	json, hand, cautions  bool
	jobs                  int
	subArray              int
	keepAzimuth           bool
	file                  fileFlags
	years                 int
	targets               []*target
	missed                []string               // a line for each target that is
	typed                 func(flag string) bool // reports whether a flag was given
	spell                 spellFlags
}

// inputError is the user's to mend.
type inputError struct{ error }

func (e inputError) Unwrap() error { return e.error }

func wrong(format string, args ...any) error { return inputError{fmt.Errorf(format, args...)} }

// run does what args ask and returns the exit status. Results go to stdout, the rest to stderr.
func run(args []string, stdout, stderr io.Writer) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	return runWithin(ctx, args, stdout, stderr)
}

// runWithin is run until ctx ends.
func runWithin(ctx context.Context, args []string, stdout, stderr io.Writer) (status int) {
	defer func() {
		if bug := recover(); bug != nil {
			fmt.Fprintf(stderr, "tideover: a fault of ours, please report it with the scenario: %v\n\n%s", bug, debug.Stack())
			status = ourFault
		}
	}()
	var buffered bytes.Buffer // an answer appears whole or not at all
	c := &call{ctx: ctx, stdout: &buffered, stderr: stderr}
	err := command(c, args)
	if err == nil {
		if _, werr := stdout.Write(buffered.Bytes()); werr != nil {
			if !errors.Is(werr, syscall.EPIPE) { // else the reader has seen enough
				err = werr
			}
		}
	}
	switch {
	case errors.Is(err, context.Canceled):
		fmt.Fprintln(stderr, "tideover: interrupted; nothing was written")
		return interrupted
	case err == nil && len(c.missed) > 0:
		for _, line := range c.missed {
			fmt.Fprintf(stderr, "tideover: %s\n", line)
		}
		return missed
	case err == nil:
		return done
	}
	printFaults(stderr, err)
	var input inputError
	if errors.As(err, &input) {
		return wrongInput
	}
	return ourFault
}

func printFaults(w io.Writer, err error) {
	var at *sourceError
	if errors.As(err, &at) {
		for i, e := range at.faults {
			if i > 0 {
				fmt.Fprintln(w)
			}
			fmt.Fprint(w, e.Render(at.src))
		}
		return
	}
	fmt.Fprintf(w, "tideover: %s\n", strings.ReplaceAll(err.Error(), "\n", "\ntideover: "))
}

// sourceError is a scenario's faults with its text, for the caret.
type sourceError struct {
	src    []byte
	faults scenarios.Errors
}

func (e *sourceError) Error() string { return e.faults.Error() }

func command(c *call, args []string) error {
	if len(args) == 0 {
		fmt.Fprint(c.stderr, usage())
		return wrong("a command is missing, as in: tideover %s", verbs[0].example)
	}
	if slices.Contains([]string{"help", "-h", "--help"}, args[0]) {
		if len(args) > 1 {
			args = []string{args[1], "--help"}
		} else {
			_, err := io.WriteString(c.stdout, usage())
			return err
		}
	}
	i := slices.IndexFunc(verbs, func(v verb) bool { return v.name == args[0] })
	if i < 0 {
		var names []string
		for _, v := range verbs {
			names = append(names, v.name)
		}
		hint := "the commands are " + strings.Join(names, ", ")
		if near := scenarios.Nearest(args[0], names); near != "" {
			hint = "did you mean " + near + "?"
		}
		return wrong("%q is not a command; %s", args[0], hint)
	}
	v := verbs[i]
	f := pflag.NewFlagSet(v.name, pflag.ContinueOnError)
	f.SetOutput(io.Discard)
	f.Usage = func() {}
	f.SortFlags = false
	v.flags(f, c)
	err := f.Parse(args[1:])
	switch {
	case errors.Is(err, pflag.ErrHelp):
		fmt.Fprintf(c.stdout, "Example: tideover %s\n\n%s\n\nFlags:\n%s", v.example, v.says, f.FlagUsagesWrapped(80))
		return nil
	case err != nil:
		return flagFault(f, err, args[1:])
	}
	f.Visit(func(f *pflag.Flag) {
		if f.Value.String() == "" && err == nil {
			err = wrong("--%s: nothing is typed after it", f.Name)
		}
	})
	if err != nil {
		return err
	}
	c.verb, c.args, c.seeded = v, f.Args(), f.Changed("seed")
	c.typed = f.Changed
	return v.do(c)
}

// flagFault says what is wrong with a flag in the words of the user, and of all flags that are not known the nearest.
func flagFault(f *pflag.FlagSet, err error, args []string) error {
	var value *pflag.InvalidValueError
	if errors.As(err, &value) {
		want := map[string]string{"uint64": "a whole number, 0 or more", "int": "a whole number", "float64": "a number",
			"bool": "true or false", "float64Slice": "a number or several with commas between"}
		return wrong("--%s: %q is not %s", value.GetFlag().Name, value.GetValue(), want[value.GetFlag().Value.Type()])
	}
	var unknown *pflag.NotExistError
	if !errors.As(err, &unknown) {
		return inputError{err}
	}
	var names []string
	f.VisitAll(func(f *pflag.Flag) { names = append(names, f.Name) })
	if unknown.GetSpecifiedShortnames() != "" {
		return noFlag(f, names, "-", unknown.GetSpecifiedName())
	}
	var all []error
	for _, a := range args {
		name, _, _ := strings.Cut(strings.TrimPrefix(a, "--"), "=")
		if a == "--" {
			break
		}
		if strings.HasPrefix(a, "--") && name != "help" && f.Lookup(name) == nil {
			all = append(all, noFlag(f, names, "--", name))
		}
	}
	return inputError{errors.Join(all...)}
}

func noFlag(f *pflag.FlagSet, names []string, dashes, name string) error {
	if near := scenarios.Nearest(name, names); near != "" {
		return wrong("%s%s is not a flag of %s; did you mean --%s?", dashes, name, f.Name(), near)
	}
	return wrong("%s%s is not a flag of %s; its flags are --%s", dashes, name, f.Name(), strings.Join(names, ", --"))
}

func usage() string {
	var b strings.Builder
	fmt.Fprintf(&b, "Example: tideover %s\n\nWill the battery tide this building over?\n\nCommands:\n", verbs[0].example)
	for _, v := range verbs {
		line, _, _ := strings.Cut(v.says, "\n")
		fmt.Fprintf(&b, "  %-10s %s\n", v.name, line)
	}
	b.WriteString("\nFlags of a command: tideover help COMMAND\n")
	return b.String()
}
