//! Arguments of `completions`.

use clap::Args;
use clap_complete::Shell;

#[derive(Args)]
#[command(
    after_help = "Examples:\n  sealspan completions bash > ~/.local/share/bash-completion/completions/sealspan\n  sealspan completions zsh > ~/.zfunc/_sealspan\n  sealspan completions fish > ~/.config/fish/completions/sealspan.fish"
)]
pub struct Completions {
    /// The shell
    #[arg(value_enum)]
    pub shell: Shell,
}
