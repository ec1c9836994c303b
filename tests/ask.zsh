# ask.zsh FOLDER PROGRAM LINE: types LINE and a tab in a zsh with _flatwright from FOLDER, prints
# the line as it then stands.
zmodload zsh/zpty || exit 1
zpty shell 'zsh -f -i'
zpty -w shell "PATH=${2:h}:\$PATH PS1=; unsetopt zle_bracketed_paste; unset zle_bracketed_paste; fpath=(${(q)1} \$fpath)
autoload -U compinit && compinit -u -D; setopt no_list_beep
typed() { print -r -- \"<<\${BUFFER%% }>>\"; BUFFER=; zle accept-line }; zle -N typed; bindkey '^X' typed
bindkey '^I' complete-word; print ready''ready"
zpty -r shell output '*readyready*'
zpty -w -n shell "$3"$'\t\x18'
zpty -r shell output '*<<*>>*'
print -r -- "${${output##*<<}%%>>*}"
zpty -d shell
