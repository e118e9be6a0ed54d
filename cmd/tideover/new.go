package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"

	"github.com/spf13/pflag"

	"tideover/scenarios"
)

const newExample = "new tool-store --out my-store.yaml"

var newVerb = verb{
	name:    "new",
	example: newExample,
	says: `a commented starter scenario that runs as it is

Kinds: ` + strings.Join(scenarios.StarterKinds(), ", ") + `. Every key is there with what it is
and where its default comes from. Without --out it is printed. --schema prints
the JSON Schema of scenarios instead: an editor that is given it completes keys
and marks mistakes as you type.`,
	flags: func(f *pflag.FlagSet, c *call) {
		f.BoolVar(&c.starter.parts, "parts", false, "with a controller, a battery and an inverter of its own")
		f.BoolVar(&c.starter.allInOne, "all-in-one", false, "with one all-in-one box in their place")
		f.StringVar(&c.out, "out", "", "write it to this `file`, which must not exist")
		f.BoolVar(&c.starter.schema, "schema", false, "print the JSON Schema of scenarios")
	},
	do: newScenario,
}

// starterFlags are the flags of new alone.
type starterFlags struct{ parts, allInOne, schema bool }

func newScenario(c *call) error {
	kinds := strings.Join(scenarios.StarterKinds(), ", ")
	text := scenarios.Schema
	switch s := c.starter; {
	case s.schema && (len(c.args) > 0 || s.parts || s.allInOne):
		return wrong("--schema stands alone: one schema fits every scenario")
	case s.schema:
	case len(c.args) == 0:
		return wrong("the kind of building is missing: %s, as in: tideover %s", kinds, newExample)
	case len(c.args) > 1:
		return wrong("one starter at a time: %s is one too many", c.args[1])
	case s.parts && s.allInOne:
		return wrong("--parts and --all-in-one exclude each other: an all-in-one box holds the parts")
	default:
		allInOne := s.allInOne || !s.parts && scenarios.StarterIsAllInOne(c.args[0])
		var err error
		if text, err = scenarios.Starter(c.args[0], allInOne); err != nil {
			return inputError{err}
		}
	}
	if c.out == "" {
		_, err := io.WriteString(c.stdout, text)
		return err
	}
	if err := create(c.out, text); err != nil {
		return err
	}
	fmt.Fprintf(c.stderr, "written to %s\n", c.out)
	return nil
}

// create writes a file that does not exist yet, whole or not at all.
func create(path, text string) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	switch {
	case errors.Is(err, fs.ErrExist):
		return wrong("%s is there already and is not overwritten: give another name, or remove it first", path)
	case err != nil:
		return inputError{fmt.Errorf("the file cannot be written: %w", err)}
	}
	_, err = f.WriteString(text)
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		os.Remove(path)
		return fmt.Errorf("the file cannot be written: %w", err)
	}
	return nil
}
