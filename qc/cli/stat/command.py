"""From a statistic's entry in its family's table to a command: options, reading, asking, printing, refusing."""

import json
import re
import warnings
from typing import Any

import click

from qc.cli.stat.asking import Column, Plain, Statistic
from qc.cli.stat.plain import plain
from qc.cli.stat.sheet import Refused, Sheet, read_sheet
from qc.cli.stat.table import table

SEPARATORS = {",": ",", ";": ";", "tab": "\t"}


def command_for(name: str, line: str, statistic: Statistic) -> click.Command:
    """Return the command that asks for one statistic; line says what it answers."""

    def run(
        as_json: bool, file: str | None = None, separator: str = ",", picture: str | None = None, **given: Any
    ) -> None:
        options = {option.argument: _value(given[option.argument]) for option in statistic.options}
        options = {name: value for name, value in options.items() if value is not None}
        titles = {column.argument: given[column.argument] for column in statistic.columns}
        sheet = read_sheet(file, SEPARATORS[separator]) if file is not None else None
        kept, answer = _answer(name, statistic, sheet, titles | {"labels": given.get("labels")}, options)
        if picture is not None and sheet is not None:
            from qc.cli.stat.picture import write_picture

            write_picture(kept, picture, name, sheet.file, given.get("labels"))
        click.echo(json.dumps(answer, ensure_ascii=False, indent=2, allow_nan=False) if as_json else _text(answer))

    return click.Command(name, callback=run, params=_parameters(statistic), help=line, short_help=line)


def _text(answer: Any) -> str:
    return "\n".join(table(answer)).strip("\n")


def _value(value: Any) -> Any:
    return list(value) if isinstance(value, tuple) else value


def _parameters(statistic: Statistic) -> list[click.Parameter]:
    parameters: list[click.Parameter] = []
    if statistic.columns:
        parameters.append(click.Argument(["file"]))
        parameters += [_column_option(column) for column in statistic.columns]
        if statistic.labels:
            told = "Column with the rows' names; without it they are 1, 2, 3."
            parameters.append(click.Option(["--label", "labels"], metavar="COLUMN", help=told))
        told = "What stands between the cells of the file."
        separator = click.Choice(list(SEPARATORS))
        parameters.append(click.Option(["--separator"], type=separator, default=",", show_default=True, help=told))
    if statistic.draws:
        told = "Draw the chart into this file too: a drawing (.svg), or a page with its table (.html)."
        parameters.append(click.Option(["--picture"], metavar="FILE", help=told))
    parameters += [_plain_option(option) for option in statistic.options]
    parameters.append(click.Option(["--json", "as_json"], is_flag=True, help="Print JSON, numbers in full."))
    return parameters


def _column_option(column: Column) -> click.Option:
    return click.Option(
        [column.flag, column.argument],
        metavar="COLUMN",
        required=column.required,
        multiple=column.many,
        help=f"Column: {column.help}" + (" Give it once for each column." if column.many else ""),
    )


def _plain_option(option: Plain) -> click.Option:
    if option.is_flag:
        return click.Option([option.flag, option.argument], is_flag=True, help=option.help)
    return click.Option(
        [option.flag, option.argument],
        type=option.type,
        default=() if option.many and option.default is None else option.default,
        multiple=option.many,
        required=option.default is None and not option.may_lack,
        show_default=option.default is not None,
        help=option.help,
    )


def _answer(
    name: str, statistic: Statistic, sheet: Sheet | None, titles: dict[str, Any], options: dict[str, Any]
) -> tuple[object, Any]:
    """Return the answer as it was given, and plain.

    A number that was reached through an overflow is refused: somebody would act on it.
    """
    try:
        with warnings.catch_warnings():
            # Overflow, division by nothing, a fit that did not settle. A library's notice of age is none of these.
            warnings.simplefilter("error", RuntimeWarning)
            warnings.simplefilter("error", UserWarning)
            answer = _asked(statistic, sheet, titles, options)
            return answer, plain(answer)
    except ValueError as why:
        raise Refused(_where(name, str(why), sheet, titles)) from why
    except (ArithmeticError, MemoryError, RuntimeWarning, UserWarning) as why:
        raise Refused(
            f"{name}: these numbers cannot be calculated with ({str(why) or 'memory'}); "
            "smaller ones, or ones less far apart, would do"
        ) from why


def _asked(statistic: Statistic, sheet: Sheet | None, titles: dict[str, Any], options: dict[str, Any]) -> object:
    if sheet is None:
        return statistic.ask(**options)
    columns = _columns(statistic, sheet, titles)
    if statistic.each_row:
        return _row_by_row(statistic, sheet, titles, columns, options)
    if statistic.labels:
        columns["labels"] = sheet.labels(titles["labels"])
    return statistic.ask(**columns, **options)


def _columns(statistic: Statistic, sheet: Sheet, titles: dict[str, Any]) -> dict[str, Any]:
    columns: dict[str, Any] = {}
    for column in statistic.columns:
        title = titles[column.argument]
        if column.many:
            columns[column.argument] = {one: sheet.column(one, column.holds) for one in title}
        elif title is not None:
            columns[column.argument] = sheet.column(title, column.holds)
    return columns


def _row_by_row(
    statistic: Statistic, sheet: Sheet, titles: dict[str, Any], columns: dict[str, Any], options: dict[str, Any]
) -> list[dict[str, Any]]:
    answers = []
    for place, label in enumerate(sheet.labels(titles["labels"])):
        row = {argument: values[place] for argument, values in columns.items()}
        try:
            answer = plain(statistic.ask(**row, **options))
        except ValueError as why:
            number = sheet.numbers[place]
            raise Refused(f"{sheet.file}, row {number}: {why}{_columns_told(str(why), titles)}") from why
        answers.append({"row": label} | (answer if isinstance(answer, dict) else {"answer": answer}))
    return answers


def _where(name: str, why: str, sheet: Sheet | None, titles: dict[str, Any]) -> str:
    """Put the file's own words to a refusal: the row that it is about, and which columns its names stand for."""
    if sheet is None:
        return f"{name}: {why}"
    row = _row_named(why, sheet, titles)
    place = f"{sheet.file}, row {row}" if row else sheet.file
    return f"{place}: {why}{_columns_told(why, titles)}"


def _row_named(why: str, sheet: Sheet, titles: dict[str, Any]) -> int | None:
    """Return the spreadsheet row that a refusal names by its place ("counts[3]") or its label ("for 'Monday'")."""
    for argument, place in re.findall(r"(\w+)\[(\d+)\]", why):
        if titles.get(argument) and int(place) < len(sheet.numbers):
            return sheet.numbers[int(place)]
    labels = sheet.labels(titles["labels"])
    for place, label in enumerate(labels):
        if re.search(rf"(for|names|got) {re.escape(repr(label))}", why):
            return sheet.numbers[place]
    return None


def _columns_told(why: str, titles: dict[str, Any]) -> str:
    told = [
        f"{argument} is column {title!r}"
        for argument, title in titles.items()
        if isinstance(title, str) and re.search(rf"\b{argument}\b", why)
    ]
    return f" ({', '.join(told)})" if told else ""
