package cli

import (
	"slices"
	"strings"

	"github.com/spf13/cobra"
)

// Completion must never fail: without a library it offers what is shipped.

// completeUnit offers the units of the library as the first argument.
func (c *call) completeUnit(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
	return firstOnly(args, c.unitNames()...), cobra.ShellCompDirectiveDefault
}

// completeDevice offers the devices as the first argument.
func (c *call) completeDevice(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
	return firstOnly(args, c.deviceNames()...), cobra.ShellCompDirectiveDefault
}

// completeDeviceFlag offers the devices as the value of a flag.
func (c *call) completeDeviceFlag(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	return c.deviceNames(), cobra.ShellCompDirectiveDefault
}

// firstOnly are the words as long as the first argument is still to come.
func firstOnly(args []string, words ...string) []string {
	if len(args) > 0 {
		return nil
	}
	return words
}

func fixedCompletion(words ...string) cobra.CompletionFunc {
	return func(_ *cobra.Command, _ []string, begun string) ([]string, cobra.ShellCompDirective) {
		fitting := slices.DeleteFunc(slices.Clone(words), func(w string) bool { return !strings.HasPrefix(w, begun) })
		return fitting, cobra.ShellCompDirectiveNoFileComp
	}
}

// completeRig offers the rigs of the library as the first argument.
func (c *call) completeRig(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
	return firstOnly(args, c.rigNames()...), cobra.ShellCompDirectiveNoFileComp
}

func (c *call) rigNames() []string {
	shelf, err := c.library()
	if err != nil {
		return nil
	}
	names, _ := shelf.Rigs.Names()
	return names
}
