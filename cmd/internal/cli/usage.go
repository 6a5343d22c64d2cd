package cli

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"echowright/preset/nearest"
)

// A usageError says that the words of the command line make no sense: exit code 2.
type usageError struct {
	err     error
	command string // whose help tells more, "" where the error says enough
}

func (e *usageError) Error() string {
	if e.command == "" {
		return e.err.Error()
	}
	return fmt.Sprintf("%v; see `%s --help`", e.err, e.command)
}

func (e *usageError) Unwrap() error { return e.err }

// misuse is a usage error that sends the reader to the command's help.
func misuse(cmd *cobra.Command, format string, args ...any) error {
	return &usageError{err: fmt.Errorf(format, args...), command: cmd.CommandPath()}
}

// misused makes err a usage error; it says itself what to do.
func misused(err error) error {
	if err == nil {
		return nil
	}
	return &usageError{err: err}
}

// asGroup makes a command one that has nothing to do by itself. Cobra would leave
// without an error where a subcommand is unknown or missing.
func asGroup(c *call, group *cobra.Command) {
	group.Args = func(cmd *cobra.Command, args []string) error {
		if len(args) > 0 {
			return unknownCommand(cmd, args[0])
		}
		return nil
	}
	group.RunE = func(cmd *cobra.Command, _ []string) error {
		return misuse(cmd, "%s: name what to do: %s", cmd.Name(), strings.Join(commandNames(cmd), ", "))
	}
}

func unknownCommand(group *cobra.Command, word string) error {
	if name := nearest.Name(word, commandNames(group)); name != "" {
		return misused(fmt.Errorf("unknown command %q: did you mean `%s %s`?", word, group.CommandPath(), name))
	}
	return misuse(group, "unknown command %q", word)
}

func commandNames(group *cobra.Command) []string {
	var names []string
	for _, c := range group.Commands() {
		if c.IsAvailableCommand() || c.Name() == "help" {
			names = append(names, c.Name())
		}
	}
	return names
}

// flagError says what is wrong with a flag, or with the command before it: cobra
// reads the flags of a command that it does not know as its parent's.
func (c *call) flagError(cmd *cobra.Command, err error) error {
	if cmd.HasSubCommands() {
		_, rest, _ := cmd.Root().Find(c.Args)
		if word := firstWord(rest); word != "" {
			return unknownCommand(cmd, word)
		}
	}
	var unknown *pflag.NotExistError
	if errors.As(err, &unknown) {
		if name := nearest.Name(unknown.GetSpecifiedName(), flagNames(cmd)); name != "" {
			return misuse(cmd, "unknown flag --%s: did you mean --%s?", unknown.GetSpecifiedName(), name)
		}
	}
	var wrong *pflag.InvalidValueError
	if errors.As(err, &wrong) {
		return misuse(cmd, "--%s %q: that is no %s", wrong.GetFlag().Name, wrong.GetValue(), flagWords(wrong.GetFlag().Value.Type()))
	}
	return misuse(cmd, "%w", err)
}

// flagWords says what a flag takes, by the name that its type has in pflag.
func flagWords(kind string) string {
	words, ok := map[string]string{
		"int": "whole number", "intSlice": "list of whole numbers, such as 2,4,6", "float64": "number",
		"duration": "time, such as 10s or 500ms", "bool": "true or false",
	}[kind]
	if !ok {
		return kind
	}
	return words
}

// firstWord is the first argument behind the global flags, "" if that is a flag too.
func firstWord(args []string) string {
	for i := 0; i < len(args); i++ {
		switch {
		case args[i] == "--home":
			i++
		case slices.Contains([]string{"--json", "-q", "--quiet"}, args[i]), strings.HasPrefix(args[i], "--home="):
		case strings.HasPrefix(args[i], "-"):
			return ""
		default:
			return args[i]
		}
	}
	return ""
}

func flagNames(cmd *cobra.Command) []string {
	var names []string
	note := func(f *pflag.Flag) { names = append(names, f.Name) }
	cmd.Flags().VisitAll(note)
	cmd.InheritedFlags().VisitAll(note)
	return names
}

// takes says which arguments a command needs: "UNIT", or "FILE…" for one or more.
// With none named, it takes none.
func takes(names ...string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		many := len(names) > 0 && strings.HasSuffix(names[len(names)-1], "…")
		switch {
		case len(args) < len(names):
			return misuse(cmd, "%s: %s is missing", cmd.Name(), names[len(args)])
		case len(args) > len(names) && !many:
			return misuse(cmd, "%s: %q is one argument too many", cmd.Name(), args[len(names)])
		}
		return nil
	}
}
