package cli

import (
	"runtime/debug"

	"github.com/spf13/cobra"
)

// The groups of the help.
const (
	groupMeasure = "measure"
	groupLibrary = "library"
	groupDevice  = "device"
	groupSongs   = "songs"
	groupListen  = "listen"
)

var groups = []cobra.Group{
	{ID: groupMeasure, Title: "Measure:"},
	{ID: groupLibrary, Title: "Library:"},
	{ID: groupDevice, Title: "Device:"},
	{ID: groupSongs, Title: "Songs:"},
	{ID: groupListen, Title: "Listen:"},
}

const rootLong = `echowright brings the echo of an old multi-head machine to a programmable
multi-tap delay: it measures the machine from a recording, keeps what it found in
a library, works out the setting of your device that comes nearest, and writes
and verifies it over MIDI.

The result goes to stdout, everything else to stderr. Exit: 0 done, 1 failed,
2 wrong use, 3 the device holds something else than asked, 4 no answer from the
device, 5 nothing to measure.`

func newRoot(c *call) *cobra.Command {
	root := &cobra.Command{
		Use:     "echowright",
		Short:   "Bring the echo of an old machine to a programmable delay",
		Long:    rootLong,
		Example: "  echowright demo\n  echowright measure take.wav --heads 2,4,6 --into saltmarsh-drum-1\n  echowright plan saltmarsh-drum-1 --device five-line",
		Version: version(),

		SilenceErrors: true, SilenceUsage: true,
		PersistentPreRun: c.settle,
	}
	asGroup(c, root)
	root.RunE = func(cmd *cobra.Command, _ []string) error { return cmd.Help() }
	flags := root.PersistentFlags()
	flags.StringVar(&c.home, "home", "", "`folder` of the library (default: $ECHOWRIGHT_HOME, else your data folder)")
	flags.BoolVar(&c.json, "json", false, "the result as JSON")
	flags.BoolVarP(&c.quiet, "quiet", "q", false, "only the result: no talk, no progress; warnings of danger stay")
	root.SetVersionTemplate("{{.Name}} {{.Version}}\n")
	root.SetFlagErrorFunc(c.flagError)
	root.SetHelpCommand(newHelpCommand(root))
	addGrouped(root, c)
	return root
}

// addGrouped adds the commands under their groups; a group without commands does
// not show.
func addGrouped(root *cobra.Command, c *call) {
	children := map[string][]*cobra.Command{
		groupMeasure: {newDemoCommand(c), newMeasureCommand(c), newSignalCommand(c)},
		groupLibrary: {newLibraryCommand(c), newSnapshotCommand(c)},
		groupDevice: {
			newPlanCommand(c), newPushCommand(c), newReadCommand(c), newBackupCommand(c), newRestoreCommand(c), newResumeCommand(c), newRigCommand(c),
			newDeviceCommand(c), newPortsCommand(c), newEmulateCommand(c),
		},
		groupSongs:  {newRetimeCommand(c), newSongsCommand(c), newFollowCommand(c)},
		groupListen: {newCompareCommand(c), newListenCommand(c), newRenderCommand(c)},
	}
	for _, g := range groups {
		if len(children[g.ID]) == 0 {
			continue
		}
		root.AddGroup(&g)
		for _, child := range children[g.ID] {
			child.GroupID = g.ID
			root.AddCommand(child)
		}
	}
}

// newHelpCommand is cobra's, but a topic that is not there is wrong use.
func newHelpCommand(root *cobra.Command) *cobra.Command {
	return &cobra.Command{
		Use:     "help [COMMAND]",
		Short:   "Help about any command",
		Example: "  echowright help measure",
		RunE: func(_ *cobra.Command, args []string) error {
			target, rest, err := root.Find(args)
			if err != nil {
				return err
			}
			if len(rest) > 0 {
				return unknownCommand(target, rest[0])
			}
			return target.Help()
		},
	}
}

// version is what the Go tool noted when it built the program: a tag, or a
// version made up from the commit.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok || info.Main.Version == "" {
		return "(unknown)"
	}
	return info.Main.Version
}
