# Types into an interactive zsh that has loaded the script, presses tab, and prints the command
# that came of it. Lines to type are the arguments; a tab is a tab.
zmodload zsh/zpty
zpty inner "TERM=dumb PS1='ready> ' zsh -f -i"
expect() {
    local text="" chunk
    while [[ $text != *$~1* ]]; do
        zpty -r inner chunk || { print -r -- "the inner zsh ended: $text"; exit 1 }
        text+=$chunk
    done
    print -r -- $text
}
zpty -w inner 'unsetopt zle_bracketed_paste 2>/dev/null; setopt no_beep; LISTMAX=1000; zstyle ":completion:*" menu no'
zpty -w inner 'autoload -Uz compinit && compinit -u -D; source <(command wreath completion zsh)'
zpty -w inner 'wreath() { print -r -- "G"OT:"$*":; }; print LOA""DED'
expect '*LOADED*' >/dev/null
for line in "$@"; do
    zpty -w -n inner "$line"$'\n'
    expect '*GOT:*:*' | grep -o 'GOT:[^:]*' | tail -n 1
done
zpty -d inner
