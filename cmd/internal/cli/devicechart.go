package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/profiles/chart"
)

type chartOptions struct{ form, out string }

// The forms of a chart.
const (
	chartText     = "text"
	chartMarkdown = "markdown"
	chartHTML     = "html"
)

func newDeviceChartCommand(c *call) *cobra.Command {
	o := chartOptions{form: chartText}
	cmd := &cobra.Command{
		Use:   "chart DEVICE",
		Short: "The implementation chart of a device: which message sets what",
		Example: "  echowright device chart tap-loop\n" +
			"  echowright device chart my-delay.toml --form html --out my-delay.html",
		Args:              takes("DEVICE"),
		ValidArgsFunction: c.completeDevice,
		RunE:              func(cmd *cobra.Command, args []string) error { return runDeviceChart(c, cmd, args[0], o) },
	}
	cmd.Flags().StringVar(&o.form, "form", o.form, "`form` of the chart: text, markdown or html")
	cmd.Flags().StringVar(&o.out, "out", "", "write it into a `file`")
	_ = cmd.RegisterFlagCompletionFunc("form", fixedCompletion(chartText, chartMarkdown, chartHTML))
	return cmd
}

func runDeviceChart(c *call, cmd *cobra.Command, name string, o chartOptions) error {
	d, err := c.device(name)
	if err != nil {
		return err
	}
	drawn := chart.Of(d)
	if c.json {
		return ui.JSON(c.out, drawn)
	}
	var text string
	switch o.form {
	case chartText:
		text = drawn.Text()
	case chartMarkdown:
		text = drawn.Markdown()
	case chartHTML:
		if text, err = drawn.HTML(); err != nil {
			return err
		}
	default:
		return misuse(cmd, "chart: --form %q: text, markdown or html", o.form)
	}
	if o.out != "" {
		return c.writeOut(o.out, []byte(text))
	}
	_, err = fmt.Fprint(c.out, text)
	return err
}
