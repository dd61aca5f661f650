"""How help and errors look: plain names in place of `<list[Path]>` and `{PHOTO...}...`, one style of error for all."""

from __future__ import annotations

import gc
import sys
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import typer
from typer.core import TyperCommand, TyperGroup

from calib.outcome.errors import InputError
from calib.words.language import choose
from calib.words.said import say
from photomeasure.cli.help_said import in_words
from photomeasure.cli.listed import LISTED
from photomeasure.cli.once import once_each
from photomeasure.cli.usage_said import usage_said

# commands that end before there is anything to tidy up; the others get back the collector of cycles that `whole.main` put to rest
_SHORT = frozenset({"measure", "target", "tape", "guide", "rules", "schema", "settings"})
_UsageError: type[Exception] = typer.BadParameter.__mro__[1]  # whichever library the installed typer raises it from


class PlainCommand(TyperCommand):
    """A command whose help shows what a person types."""

    def get_params(self, ctx: Any) -> list[Any]:
        return [_plain(parameter) for parameter in super().get_params(ctx)]

    def parse_args(self, ctx: Any, args: Any) -> Any:
        """Read what was typed. Raises InputError where an option that holds one value is given two; where something is wrong,
        what a settings file said in place of the person is told first."""
        typed = list(args)
        try:
            rest = super().parse_args(ctx, args)
            if not ctx.resilient_parsing:  # a shell that completes a line
                once_each(self.make_parser(ctx), typed)
            return rest
        except (_UsageError, InputError):
            said, names = ctx.default_map or {}, {word.partition("=")[0] for word in typed}
            taken = [
                parameter
                for parameter in self.params
                if parameter.name in said and names.isdisjoint([*parameter.opts, *parameter.secondary_opts])
            ]
            _tell_defaults(taken, said)
            raise

    def invoke(self, ctx: Any) -> Any:
        """Run it; what a settings file said in place of the person is told first, on the error output."""
        taken = [
            parameter
            for parameter in self.params
            if getattr(ctx.get_parameter_source(parameter.name), "name", "") == "DEFAULT_MAP"
        ]
        _tell_defaults(taken, ctx.params)
        if self.name not in _SHORT and not gc.isenabled():
            gc.freeze()
            gc.enable()
        return super().invoke(ctx)

    def collect_usage_pieces(self, ctx: Any) -> list[str]:
        """The usage line: `[OPTIONS] PHOTO...`."""
        arguments = [parameter for parameter in self.params if parameter.param_type_name == "argument"]
        return [say("[OPTIONS]"), *(_usage(argument) for argument in arguments)]

    def get_usage(self, ctx: Any) -> str:
        return super().get_usage(ctx).replace("Usage:", say("Usage:"), 1)

    def format_help(self, ctx: Any, formatter: Any) -> None:
        in_words(self, ctx)
        super().format_help(ctx, formatter)


def _plain(parameter: Any) -> Any:
    """No name of a Python type in the help: an argument's name says it, and a switch has no value."""
    if parameter.param_type_name == "argument":
        parameter.display_type_rich = lambda ctx: ""
    elif getattr(parameter, "is_flag", False) and parameter.metavar is None:
        parameter.metavar = ""
    reader = getattr(parameter, "get_runtime_param", None)
    if reader is not None and not isinstance(reader, _ReaderOfWhatIsTyped):
        parameter.get_runtime_param = _ReaderOfWhatIsTyped(reader)
    return parameter


class _ReaderOfWhatIsTyped:
    """The library's reader of an option, made where the option is typed: for one that is not, it would be made to read None.

    Of the forty options of `measure` few are typed, and each reader is a schema of pydantic's.
    """

    def __init__(self, made: Callable[[], Any]) -> None:
        self._made = made

    def __call__(self) -> _ReaderOfWhatIsTyped:
        return self

    def coerce(self, value: Any, param: Any, ctx: Any) -> Any:
        if value is None:
            return () if param.multiple or param.nargs == -1 else None
        return self._made().coerce(value, param=param, ctx=ctx)


def _tell_defaults(taken: Sequence[Any], values: Mapping[str, Any]) -> None:
    if taken:
        defaults = ", ".join(_default_said(parameter, values[parameter.name]) for parameter in taken)
        print(say("From photomeasure.toml: {defaults}.", defaults=defaults), file=sys.stderr)


def _default_said(parameter: Any, value: Any) -> str:
    """An option as it could have been typed."""
    if isinstance(value, bool):
        names = parameter.opts if value else parameter.secondary_opts or [say("no {option}", option=parameter.opts[0])]
        return str(names[0])
    return f"{parameter.opts[0]} {value:g}" if isinstance(value, float) else f"{parameter.opts[0]} {value}"


def _usage(argument: Any) -> str:
    name = f"{argument.metavar or argument.name.upper()}{'' if argument.nargs == 1 else '...'}"
    return name if argument.required else f"[{name}]"


class PlainInnerGroup(TyperGroup):
    """A command that has commands of its own."""

    def get_params(self, ctx: Any) -> list[Any]:
        return [_plain(parameter) for parameter in super().get_params(ctx)]

    def collect_usage_pieces(self, ctx: Any) -> list[str]:
        return [say("COMMAND [OPTIONS] ...")]

    def get_usage(self, ctx: Any) -> str:
        return super().get_usage(ctx).replace("Usage:", say("Usage:"), 1)

    def format_help(self, ctx: Any, formatter: Any) -> None:
        in_words(self, ctx)
        super().format_help(ctx, formatter)


class PlainGroup(PlainInnerGroup):
    """The program: commands in the order of `app.ORDER`; a wrong option is told as every other mistake is."""

    def __init__(self, **how: Any) -> None:
        from photomeasure.cli.verbs import Commands

        super().__init__(**how)
        self.commands = Commands(self.commands)

    def list_commands(self, ctx: Any) -> list[str]:
        return list(self.commands)

    def format_help(self, ctx: Any, formatter: Any) -> None:
        """The list of commands: of those that are listed no module is loaded."""
        commands = self.commands
        self.commands = {name: _as_listed(name) if name in LISTED else commands[name] for name in commands}
        try:
            super().format_help(ctx, formatter)
        finally:
            self.commands = commands

    def invoke(self, ctx: Any) -> Any:
        """Run the command; Ctrl-C is told in a word, exit code 130."""
        try:
            return super().invoke(ctx)
        except KeyboardInterrupt:
            print(say("\nphotomeasure: stopped; what was finished is kept."), file=sys.stderr)
            raise typer.Exit(130) from None

    def main(self, args: Sequence[str] | None = None, standalone_mode: bool = True, **extra: Any) -> Any:  # type: ignore[override]
        """As of the library, but that usage errors are printed in this program's one style, exit code 2."""
        from photomeasure.cli.settings import language_at_start

        choose(language_at_start())
        try:
            result = super().main(args, standalone_mode=False, **extra)
        except _UsageError as error:
            if not standalone_mode:
                raise
            sys.exit(_explain(error))
        except typer.Abort:
            if not standalone_mode:
                raise
            sys.exit(130)
        if not standalone_mode:
            return result
        sys.exit(result if isinstance(result, int) else 0)


def _as_listed(name: str) -> TyperCommand:
    """What the list shows of a command, without the command."""
    return TyperCommand(name, help=LISTED[name].help, rich_help_panel=LISTED[name].panel)


def _explain(error: Any) -> int:
    """Print what was wrong with the way the command was typed; returns the exit code."""
    context = getattr(error, "ctx", None)
    message = error.format_message().strip() if hasattr(error, "format_message") else str(error)
    message = message.replace("Value error, ", "")
    if type(error).__name__ == "NoArgsIsHelpError":  # its message is the help itself, already printed or to be printed
        if message:
            print(message)
        return 2
    path = "photomeasure" if context is None else _program_name(context.command_path)
    told = usage_said(message)
    print(f"photomeasure: {told[:1].upper()}{told[1:]}", file=sys.stderr)
    if context is not None:
        usage = context.get_usage().partition(":")[2].strip()
        print(say("  Expected: {usage}", usage=_program_name(usage)), file=sys.stderr)
    print(
        say("  Next:     {command} --help shows every option with its default and an example", command=path),
        file=sys.stderr,
    )
    return 2


def _program_name(path: str) -> str:
    """The name that is typed, however Python was started."""
    first, _, rest = path.replace("python -m photomeasure", "photomeasure").partition(" ")
    return f"{'photomeasure' if first.endswith('.py') else first} {rest}".strip()
