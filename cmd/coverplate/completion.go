package main

import (
	"github.com/spf13/cobra"
)

func newCompletion(at surroundings) *cobra.Command {
	shells := []string{"bash", "zsh", "fish", "powershell"}
	return &cobra.Command{
		Use:   "completion bash|zsh|fish|powershell",
		Short: "write a script that completes commands in your shell",
		Long: `Writes a script that lets the shell complete commands, flags, recipes and
needs at the Tab key.`,
		Example: `  source <(coverplate completion bash)
  coverplate completion zsh > "${fpath[1]}/_coverplate"
  coverplate completion fish > ~/.config/fish/completions/coverplate.fish`,
		ValidArgs: shells,
		Args:      usage(cobra.MatchAll(cobra.ExactArgs(1), cobra.OnlyValidArgs), "the name of one shell: bash, zsh, fish or powershell"),
		RunE: func(cmd *cobra.Command, args []string) error {
			root := cmd.Root()
			switch args[0] {
			case "bash":
				return root.GenBashCompletionV2(at.Stdout, true)
			case "zsh":
				return root.GenZshCompletion(at.Stdout)
			case "fish":
				return root.GenFishCompletion(at.Stdout, true)
			}
			return root.GenPowerShellCompletionWithDesc(at.Stdout)
		},
	}
}
