# Completion of the commands of afterload for bash.
_afterload()
{
    local word=${COMP_WORDS[COMP_CWORD]} command=${COMP_WORDS[1]}
    if [ "$COMP_CWORD" -eq 1 ]; then
        # The commands stand in the help, one a line below "Subcommands:".
        mapfile -t COMPREPLY < <(compgen -W "$(afterload --help 2>/dev/null |
            sed -n '/^Subcommands:/,/^$/s/^  \([a-z-]*\) .*/\1/p')" -- "$word")
    elif [ "$COMP_CWORD" -eq 2 ] && [ "$command" = run ]; then
        # A file, or the name of a sequence that ships.
        mapfile -t COMPREPLY < <(compgen -f -- "$word"
            compgen -W "$(cd /usr/share/afterload/sequences 2>/dev/null && ls -1 -- *.sequence.yaml |
                sed 's/\.sequence\.yaml$//')" -- "$word")
    elif [ "$COMP_CWORD" -eq 2 ] && [ "$command" = new ]; then
        mapfile -t COMPREPLY < <(compgen -W "$(afterload new --help 2>/dev/null |
            sed -n '/^Subcommands:/,/^$/s/^  \([a-z-]*\) .*/\1/p')" -- "$word")
    elif [[ $word == -* && $command == new ]]; then
        mapfile -t COMPREPLY < <(compgen -W "$(afterload new "${COMP_WORDS[2]}" --help 2>/dev/null |
            sed -n 's/^  \(--[a-z-]*\).*/\1/p')" -- "$word")
    elif [[ $word == -* ]]; then
        mapfile -t COMPREPLY < <(compgen -W "$(afterload "$command" --help 2>/dev/null |
            sed -n 's/^  \(--[a-z-]*\).*/\1/p')" -- "$word")
    else
        mapfile -t COMPREPLY < <(compgen -f -- "$word")
    fi
}
complete -o filenames -F _afterload afterload
