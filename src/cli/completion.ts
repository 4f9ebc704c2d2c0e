import { exitCodes } from './exit-codes.ts';
import type { CliIo } from './io.ts';

export const SHELLS = ['bash', 'zsh', 'fish'] as const;
export type Shell = (typeof SHELLS)[number];

/** `headroomd completion SHELL`: what a shell is to read so that Tab completes verbs, options and names. */
export function completionVerb(io: CliIo, shell: Shell): number {
  io.out(SCRIPTS[shell]);
  return exitCodes.ok;
}

/** They know nothing of the program: it is asked with each Tab (`complete.ts`), so that they never fall behind it. */
const SCRIPTS: Record<Shell, string> = {
  bash: `# For bash: source <(headroomd completion bash)
_headroomd() {
  local program=\${COMP_WORDS[0]/#\\~/$HOME} word=\${COMP_WORDS[COMP_CWORD]} offer
  COMPREPLY=()
  while IFS= read -r offer; do
    case $offer in
      :files) compopt -o filenames 2>/dev/null; mapfile -t COMPREPLY < <(compgen -f -- "$word") ;;
      :folders) compopt -o filenames 2>/dev/null; mapfile -t COMPREPLY < <(compgen -d -- "$word") ;;
      *) case $word in
        [\\"\\']*) COMPREPLY+=("$offer") ;;
        *) COMPREPLY+=("$(printf '%q' "$offer")") ;;
      esac ;;
    esac
  done < <("$program" complete -- "\${COMP_WORDS[@]:1:COMP_CWORD}" 2>/dev/null)
}
complete -F _headroomd headroomd
`,
  zsh: `#compdef headroomd
# For zsh: source <(headroomd completion zsh), behind compinit
_headroomd() {
  local -a offers
  offers=("\${(@f)$("\${words[1]}" complete -- "\${(@)words[2,CURRENT]}" 2>/dev/null)}")
  case \${offers[1]} in
    '') ;;
    :files) _files ;;
    :folders) _files -/ ;;
    *) compadd -- "\${offers[@]}" ;;
  esac
}
compdef _headroomd headroomd
`,
  fish: `# For fish: headroomd completion fish | source
function __headroomd_offers
    set -l words (commandline -opc) (commandline -ct)
    set -l offers ($words[1] complete -- $words[2..-1] 2>/dev/null)
    switch "$offers[1]"
        case ''
        case :files
            __fish_complete_path (commandline -ct)
        case :folders
            __fish_complete_directories (commandline -ct)
        case '*'
            printf '%s\\n' $offers
    end
end
complete -c headroomd -f -a '(__headroomd_offers)'
`,
};
