"""In: the parser of the command line. Out: a completion script for bash or zsh, which falls back to file names."""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Iterator
from typing import Any

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
# The completion of zsh itself comes first: a fresh shell has not loaded it.
BEFORE = """(( $+functions[compdef] )) || { autoload -Uz compinit && compinit; }
autoload -Uz bashcompinit && bashcompinit
"""


def offer(action: argparse.Action, words: Iterable[str]) -> None:
    """Offer words for completion; unlike `choices`, other words remain valid."""
    action.offered = tuple(words)  # type: ignore[attr-defined]


def script(parser: argparse.ArgumentParser, shell: str) -> str:
    """Return the script of a shell."""
    choices, options = [], []
    commands = _commands(parser)
    for name, command in commands.items():
        words = []
        for action in command._actions:
            words += [word for word in action.option_strings if word.startswith("--")]
            offered: Any = action.choices or getattr(action, "offered", ())
            values = [str(word) for word in offered]
            if values and action.option_strings:
                choices += [f'        "{name} {word}") words="{" ".join(values)}" ;;' for word in action.option_strings]
            else:
                words = [*values, *words]
        options.append(f'            {name}) words="{" ".join(words)}" ;;')
    first = " ".join([*commands, "--help", "--version"])
    before = BEFORE if shell == "zsh" else ""
    return SCRIPT.format(
        shell=shell, before=before, commands=first, choices="\n".join(choices), options="\n".join(options)
    )


def _commands(parser: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    def found() -> Iterator[tuple[str, argparse.ArgumentParser]]:
        for action in parser._actions:
            if isinstance(action, argparse._SubParsersAction):
                yield from action.choices.items()

    return dict(found())
