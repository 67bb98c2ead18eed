// Command feederwright studies the protection of medium-voltage feeders.
//
// The commands read, call the packages that compute, and format what they
// return; nothing is computed here.
package main

import (
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"
)

// Exit codes: 0 ran and nothing fails, 1 ran and something fails, 2 bad input
// or usage.
const (
	exitFails = 1
	exitInput = 2
)

// errFails ends a run that found something failing; all is said already.
var errFails = errors.New("something fails")

// errSaid ends a run whose input was refused; all is said already.
var errSaid = errors.New("the input was refused")

func main() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) }

func run(args []string, stdout, stderr io.Writer) int {
	root := newRoot()
	root.SetArgs(args)
	root.SetOut(stdout)
	root.SetErr(stderr)
	err := root.Execute()
	switch {
	case err == nil:
		return 0
	case errors.Is(err, errFails):
		return exitFails
	case errors.Is(err, errSaid):
		return exitInput
	}
	fmt.Fprintf(stderr, "feederwright: %v\n", err)
	return exitInput
}

func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:   "feederwright",
		Short: "Fault currents and protection of medium-voltage feeders, from one study file",
		Long: `Feederwright reads one study file that describes a station and its feeders,
and computes what protection is set by.

Exit codes: 0 ran and nothing fails; 1 ran and something fails;
2 bad input or usage.

The program advises; a licensed engineer decides.`,
		Example: `  feederwright new my-study
  feederwright check my-study/study.yaml
  feederwright faults my-study/study.yaml --at N3 --kind lg:A --working`,
		SilenceUsage:  true,
		SilenceErrors: true,
	}
	root.CompletionOptions.HiddenDefaultCmd = true
	root.AddCommand(newNew(), newCheck(), newFaults(), newDuty(), newFlow(), newProfile(), newOneline(), newLines(), newConductors(), newDossier(), newVerify(), newSchema(), newSet(), newAccept(), newDoubt(), newServe())
	return root
}

// formats are the values of --format.
var formats = []string{"text", "json"}

func addFormat(c *cobra.Command, format *string) {
	c.Flags().StringVar(format, "format", "text", "output: text or json")
	_ = c.RegisterFlagCompletionFunc("format", cobra.FixedCompletions([]cobra.Completion{"text", "json"}, cobra.ShellCompDirectiveNoFileComp))
}

func checkFormat(format string) error {
	for _, f := range formats {
		if f == format {
			return nil
		}
	}
	return fmt.Errorf("--format %s: want text or json", format)
}

// exactly asks for n arguments and says what they are.
func exactly(n int, what string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) != n {
			return fmt.Errorf("%s wants %s; see feederwright %s --help", c.Name(), what, c.Name())
		}
		return nil
	}
}
