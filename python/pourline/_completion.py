"""In: the parser of the command line. Out: a script that completes its words in bash or zsh; files where no word fits."""

from __future__ import annotations

import argparse
from collections.abc import Iterator

SHELLS = ("bash", "zsh")
SCRIPT = """# pourline: completion of words; load it with: source <(pourline completion {shell})
{before}_pourline() {{
    local word="${{COMP_WORDS[COMP_CWORD]}}" before="${{COMP_WORDS[COMP_CWORD-1]}}" words=""
    if [ "$COMP_CWORD" -eq 1 ]; then
        words="{commands}"
    else
        case "${{COMP_WORDS[1]}} $before" in
{choices}
        *)  case "${{COMP_WORDS[1]}}" in
{options}
            esac ;;
        esac
    fi
    COMPREPLY=( $(compgen -W "$words" -- "$word") )
}}
complete -o default -F _pourline pourline
"""


def script(parser: argparse.ArgumentParser, shell: str) -> str:
    """Return the script of a shell."""
    choices, options = [], []
    commands = _commands(parser)
    for name, command in commands.items():
        words = []
        for action in command._actions:
            words += [word for word in action.option_strings if word.startswith("--")]
            if action.choices and action.option_strings:
                told = " ".join(map(str, action.choices))
                choices += [f'        "{name} {word}") words="{told}" ;;' for word in action.option_strings]
            elif action.choices:
                words = [*map(str, action.choices), *words]
        options.append(f'            {name}) words="{" ".join(words)}" ;;')
    first = " ".join([*commands, "--help", "--version"])
    before = "autoload -Uz bashcompinit && bashcompinit\n" if shell == "zsh" else ""
    return SCRIPT.format(
        shell=shell, before=before, commands=first, choices="\n".join(choices), options="\n".join(options)
    )


def _commands(parser: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    def found() -> Iterator[tuple[str, argparse.ArgumentParser]]:
        for action in parser._actions:
            if isinstance(action, argparse._SubParsersAction):
                yield from action.choices.items()

    return dict(found())
