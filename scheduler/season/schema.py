"""Every table and column of a season, said once: reading, writing, template and docs follow this.

Columns are named in plain words. What a person writes in hours, money or minutes is kept
in whole minutes, cents and seconds (see ``scheduler.season.types``).
"""

from __future__ import annotations

from typing import Any, get_args

from scheduler.season import types as t
from scheduler.season.columns import MILLION, Column, Table
from scheduler.season.materials import Material, Use
from scheduler.season.prices import Price, PriceKind


def _text(field: str, title: str, note: str, example: str, **more: Any) -> Column:
    return Column(field, title, "text", note, example, **more)


def _whole(field: str, title: str, note: str, example: str, unit: str = "", **more: Any) -> Column:
    return Column(field, title, "whole", note, example, unit, **more)


def _day(field: str, title: str, note: str, example: str = "2026-03-21") -> Column:
    return Column(field, title, "day", note, example)


def _clock(field: str, title: str, note: str, example: str) -> Column:
    return Column(field, title, "clock", note, example, high=1440)


def _yes(field: str, title: str, note: str, example: str = "yes") -> Column:
    return Column(field, title, "yes", note, example)


def _ref(field: str, table: str, note: str, example: str, title: str = "") -> Column:
    return Column(field, title or field, "reference", note, example, table=table)


def _choice(field: str, title: str, kinds: Any, note: str, example: str) -> Column:
    return Column(field, title, "choice", note, example, choices=get_args(kinds))


def _weekday(note: str) -> Column:
    return Column("weekday", "weekday", "weekday", note, "Monday")


def _money(field: str, title: str, note: str, example: str, unit: str) -> Column:
    return Column(field, title, "money", note, example, unit, high=100 * MILLION)


WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_PRIORITY = _whole("priority", "priority", "1 is served first, 3 last.", "2", low=1, high=3)

KITCHEN = Table(
    "kitchen",
    t.Kitchen,
    "Settings that hold for the whole kitchen, one a row.",
    (
        _text("name", "name", "Name of the kitchen, printed on every sheet.", "Harbour Lane Kitchen"),
        _day("first_day", "first day", "First day of the season.", "2026-02-23"),
        _day("last_day", "last day", "Last day of the season; at most 400 days in all.", "2026-04-05"),
        _text("currency", "currency", "Three letters, printed beside money.", "EUR"),
        _clock("last_pour", "last start", "No batch starts later: its first stage, mostly the boil.", "16:00"),
        _whole("opening_minutes", "opening minutes", "Getting ready before the first batch.", "20", "minutes",
               high=480),
        _whole("opening_people", "opening people", "How many people get the kitchen ready.", "1", "people", high=60),
        _whole("closing_minutes", "closing minutes", "Cleaning up after the last batch.", "30", "minutes",
               high=480),
        _whole("closing_people", "closing people", "How many people clean up.", "2", "people", high=60),
        _whole("break_after_minutes", "break after minutes", "Nobody works longer than this without a meal break.",
               "300", "minutes", low=30, high=1440),
        _whole("break_minutes", "break minutes", "Length of the meal break.", "30", "minutes", high=240),
        _whole("around_break_minutes", "around break minutes",
               "Least time at work before the meal break, and again after it.", "0", "minutes", high=240),
        _yes("break_paid", "break paid", "Whether the meal break is paid.", "no"),
        Column("rest_minutes", "rest hours", "hours", "Rest between one shift and the next.", "11", "hours", high=2880),
        _whole("days_in_a_row", "days in a row", "Most days a person works without a day off.", "6", "days",
               low=1, high=31),
        Column("longest_day_minutes", "longest day hours", "hours", "Longest shift, from arriving to leaving.",
               "10", "hours", low=30, high=1440),
        _whole("pull_rest_minutes", "pull rest minutes", "Rest before the same person pulls again.", "15",
               "minutes", high=480),
        _whole("clock_step", "clock step minutes",
               "Batches start, and people come and go, at whole steps past the hour: 1, 5, 10, 15, 20 or 30. "
               "A batch at a show starts with the show.", "5", "minutes", low=1, high=60),
        _ref("packing_station", "stations", "The station where candy is packed.", "packing bench", "packing station"),
        _text("packing_skill", "packing skill", "The skill that packing needs; blank: anyone packs.", "packing"),
        _whole("packing_from_days", "packing from days",
               "Candy may be packed this many days after it was made, 1 or more.", "1", "days", low=1, high=60),
        _whole("spare_days", "days to spare",
               "Packing is moved up to leave so many open days before each due day, as far as idle minutes and hours "
               "of contracts go that nobody is in for; 0: only idle minutes.", "1", "days", high=14),
        _whole("least_life_days", "least life days",
               "Days that candy must still keep on the due day, where an order does not say.", "0", "days", high=1500),
        _choice("plan_for", "plan for", t.ForecastLevel, "Which guess of the forecasts to plan for.", "likely"),
        _choice("working_time", "working time", t.WorkingTime,
                "Working-time rules to hold the settings and the plan against. Help, not advice: local law decides. "
                "European: 48 hours in every week and a day off after 6, stricter than the directive's averages.",
                "none"),
    ),
    "kitchen",
    needed=True,
)

TABLES: tuple[Table, ...] = (
    KITCHEN,
    Table("hours", t.Hours, "Opening hours; a weekday without a row is closed.", (
        _weekday("Day of the week."),
        _clock("opens", "opens", "When work may begin.", "08:00"),
        _clock("closes", "closes", "When everyone has left.", "18:00"),
    ), "kitchen", needed=True, unique=("weekday",), most_rows=7),
    Table("days", t.SpecialDay, "Days that differ: closed, open with hours of their own, or a holiday to mark.", (
        _day("day", "day", "The day.", "2026-04-03"),
        _choice("mark", "mark", t.DayMark, "closed; open (with hours); or holiday, which only marks it.", "closed"),
        _text("name", "name", "What to print in the calendar.", "Good Friday"),
        _clock("opens", "opens", "Only with open.", "10:00"),
        _clock("closes", "closes", "Only with open.", "16:00"),
    ), "kitchen", "special_days", unique=("day", "mark")),
    Table("stations", t.Station, "Where work is done.", (
        _text("name", "name", "Name of the station.", "cooling table"),
        _whole("places", "places", "Batches (or packers, at the packing station) it serves at once.", "1",
               "batches", low=1, high=60),
    ), "kitchen", needed=True, unique=("name",), most_rows=60),
    Table("shows", t.Show, "Batches that visitors watch, at a fixed hour.", (
        _text("name", "name", "Name of the show.", "Saturday show"),
        _clock("starts", "starts", "When the visitors come: the stage beside it starts then.", "14:00"),
        _ref("stage", "stages", "The stage that starts before them, mostly the pour; blank: the batch's first stage. "
             "Every design for the show must reach it after the same time.", "pour"),
        Column("weekday", "weekday", "weekday", "Every such weekday; or give a day.", "Saturday"),
        _day("day", "day", "Only on this day; or give a weekday.", "2026-04-02"),
        _whole("hardest", "hardest", "Highest difficulty of a design that may be shown.", "2", "1 to 5", low=1, high=5),
        _whole("strongest", "strongest", "Strongest flavour that may be shown.", "2", "1 to 3", low=1, high=3),
        _whole("extra_people", "extra people", "Extra hands for the visitors.", "1", "people", high=60),
        _whole("extra_minutes", "extra minutes", "How long the extra hands stay from then on.", "60", "minutes",
               high=1440),
        _text("extra_skill", "extra skill", "The skill the extra hands need; blank: anyone.", "talking"),
    ), "kitchen", most_rows=400),
    Table("stages", t.Stage, "The stages of every batch, in the order of the rows.", (
        _text("name", "name", "Name of the stage.", "pull"),
        _ref("station", "stations", "Where it is done.", "hook"),
        _whole("minutes", "minutes", "Minutes of the plainest batch; 0 where it depends on the load alone.", "10",
               "minutes", high=1440),
        _whole("minutes_per_level", "minutes per level", "More minutes for each level of difficulty above 1.", "10",
               "minutes", high=1440),
        _whole("minutes_per_load", "minutes per load", "More minutes for each load that is pulled.", "8", "minutes",
               high=1440),
        _whole("wait_from", "wait from", "Earliest start after the end of the stage before.", "0", "minutes",
               high=1440),
        _whole("wait_to", "wait to", "Latest start after the end of the stage before; 0: at once.", "0", "minutes",
               high=1440),
    ), "recipe", needed=True, unique=("name",), most_rows=40),
    Table("roles", t.Role, "Who each stage needs.", (
        _ref("stage", "stages", "The stage.", "pull"),
        _text("name", "name", "What the person does there.", "puller", ),
        _whole("people", "people", "How many people.", "1", "people", low=1, high=60),
        _text("skill", "skill", "The skill it needs; blank: anyone.", "pulling"),
        _whole("level", "level", "The level of the skill; the word design: as high as the design's difficulty.",
               "2", "1 to 5, or design", high=5, word="design"),
        _yes("leads", "leads", "Whether one and the same person does all such roles of a batch.", "no"),
        _yes("pulls", "pulls", "Whether the design's pulls are counted for whoever does it."),
        _yes("hot", "hot", "Whether it is hot work, which young workers do not do."),
    ), "recipe", unique=("stage", "name"), most_rows=400),
    Table("exceptions", t.StageException, "A design's own figures for a stage; blank keeps the stage's.", (
        _ref("design", "designs", "The design.", "Lighthouse"),
        _ref("stage", "stages", "The stage.", "assemble"),
        _whole("minutes", "minutes", "Minutes of this stage for this design; 0 leaves it out.", "55", "minutes",
               high=1440),
        _whole("wait_from", "wait from", "Earliest start after the stage before.", "0", "minutes",
               high=1440),
        _whole("wait_to", "wait to", "Latest start after the stage before.", "5", "minutes", high=1440),
    ), "recipe", unique=("design", "stage")),
    Table("designs", t.Design, "Every picture and its candy.", (
        _text("name", "name", "Name of the design.", "Lighthouse"),
        _whole("difficulty", "difficulty", "1 is plain, 5 is the hardest picture.", "3", "1 to 5", low=1, high=5),
        _whole("pieces", "pieces", "Pieces of a batch that can be sold, without seconds.", "900", "pieces", low=1),
        _whole("sell_by_days", "sell by days", "Days that it keeps, from the boil.", "270", "days", low=1, high=1500),
        _whole("pull_loads", "pull loads", "Loads that are pulled for a batch.", "1", "loads", high=20),
        _whole("pulls_per_load", "pulls per load", "Pulls over the hook for a load.", "75", "pulls", high=10_000),
        _text("flavour", "flavour", "The flavour.", "lemon"),
        _whole("strength", "strength", "1 is mild, 3 is strong (mint, aniseed, cinnamon).", "1", "1 to 3",
               low=1, high=3),
        _whole("colour", "colour", "1 is light, 3 is dark.", "1", "1 to 3", low=1, high=3),
        _yes("sour", "sour", "Whether acid is worked in.", "no"),
        Column("allergens", "allergens", "list", "Allergens, with commas between them; blank: none.", "milk, almond"),
        _day("from_day", "from day", "Not before this day: a flavour, colour or label arrives.", "2026-03-02"),
        _whole("spare_batches", "spare batches", "Batches more than anybody asked for, in case one fails: where days "
               "have room.", "1", "batches", high=100),
    ), "recipe", needed=True, unique=("name",), most_rows=500),
    Table("changeovers", t.Changeover, "Cleaning of a station between two batches.", (
        _choice("kind", "change", t.ChangeKind, "How the second batch differs from the first.", "dark to light"),
        _ref("station", "stations", "What is cleaned.", "cooling table"),
        _whole("minutes", "minutes", "How long it takes.", "10", "minutes", high=480),
        _whole("people", "people", "How many people clean.", "1", "people", low=1, high=60),
        _text("skill", "skill", "The skill it needs; blank: anyone.", "cleaning"),
    ), "recipe", unique=("kind", "station"), most_rows=400),
    Table("crew", t.Person, "Everyone who works in the kitchen.", (
        _text("name", "name", "Name, as printed on the run sheets.", "Ada"),
        Column("contracted_minutes", "contracted hours", "hours", "Hours a week in the contract.", "38.5",
               "hours a week", high=10_080),
        Column("longest_minutes", "longest week hours", "hours", "Most hours in a week.", "44", "hours a week",
               low=1, high=10_080),
        Column("shortest_shift", "shortest shift hours", "hours", "Never called in for less than this.", "3", "hours",
               high=1440),
        Column("longest_shift", "longest shift hours", "hours", "Blank: the kitchen's longest day.", "9", "hours",
               low=1, high=1440),
        _whole("pulls_day", "pulls a day", "Most pulls in a day: a limit of your own.", "225", "pulls", high=100_000),
        _whole("pulls_week", "pulls a week", "Most pulls in a week.", "900", "pulls", high=MILLION),
        _money("wage_cents", "wage", "Pay for an hour.", "16.50", "an hour"),
        _yes("overtime", "overtime", "Whether more than the contracted hours may be planned.", "no"),
        _whole("overtime_percent", "overtime percent", "Pay for overtime, as per cent of the wage.", "150",
               "% of the wage", low=100, high=1000),
        _yes("young", "young", "Young workers do no hot work.", "no"),
    ), "people", needed=True, unique=("name",), most_rows=100),
    Table("skills", t.Skill, "What each person can do, and how well.", (
        _ref("person", "crew", "Who.", "Ada"),
        _text("skill", "skill", "The skill, as the roles name it.", "pictures"),
        _whole("level", "level", "1 is a beginner, 5 builds anything.", "3", "1 to 5", low=1, high=5),
    ), "people", unique=("person", "skill")),
    Table("availability", t.Availability,
          "When a person can work. With no row at all: whenever the kitchen is open; "
          "with any row: only on the weekdays that have one.", (
        _ref("person", "crew", "Who.", "Ada"),
        _weekday("Day of the week."),
        _clock("starts", "starts", "From when.", "08:00"),
        _clock("ends", "ends", "Until when.", "17:00"),
    ), "people", unique=("person", "weekday")),
    Table("absences", t.Absence, "When a person is away.", (
        _ref("person", "crew", "Who.", "Ada"),
        _day("first_day", "first day", "First day away."),
        _day("last_day", "last day", "Last day away.", "2026-03-22"),
        _clock("starts", "starts", "Away from, on the first day; blank: all day.", "12:00"),
        _clock("ends", "ends", "Away until, on the last day; blank: all day.", "24:00"),
        _text("reason", "reason", "Your own remark.", "leave"),
    ), "people"),
    Table("products", t.Product, "What is sold.", (
        _text("name", "name", "Name of the pack.", "Harbour tin"),
        _money("price_cents", "price", "Price of a pack.", "6.50", "a pack"),
        Column("packing_seconds", "packing minutes", "minutes", "Minutes of one person to pack one.", "1.5",
               "minutes a pack", low=1, high=36_000),
    ), "sales", unique=("name",)),
    Table("contents", t.Content, "What is in a pack; several rows make an assortment.", (
        _ref("product", "products", "The product.", "Harbour tin"),
        _ref("design", "designs", "The design in it.", "Lighthouse"),
        _whole("pieces", "pieces", "Pieces of it in one pack.", "20", "pieces", low=1, high=100_000),
    ), "sales", unique=("product", "design"), most_rows=5000),
    Table("orders", t.Order, "Packs that customers asked for.", (
        _text("id", "order", "Number or name of the order.", "W-104"),
        _ref("product", "products", "What.", "Harbour tin"),
        _whole("packs", "packs", "How many.", "60", "packs", low=1),
        _day("due", "due day", "Packed and ready on this day."),
        _text("customer", "customer", "For whom.", "Blue Door Tea Room"),
        _choice("kind", "kind", t.OrderKind, "firm: promised; standing: comes regularly.", "firm"),
        _PRIORITY,
        _yes("partial", "partial", "Whether a part of it may be delivered."),
        _whole("least_life_days", "least life days", "Days it must still keep when delivered; blank: the kitchen's.",
               "120", "days", high=1500),
        _day("latest", "latest day", "Latest day it would still be taken; blank: the due day.", "2026-03-24"),
        _money("late_cents", "late cost", "What a pack costs you that comes after the due day.", "0.80", "a pack"),
        _yes("confirmed", "confirmed", "Whether you have already promised it to the customer.", "no"),
        _yes("cancelled", "cancelled", "Whether it was called off.", "no"),
    ), "sales", unique=("id",), most_rows=10_000),
    Table("forecasts", t.Forecast, "Packs that should be on the shelf by a day.", (
        _text("id", "forecast", "Number or name of the forecast.", "Easter shelf"),
        _ref("product", "products", "What.", "Harbour tin"),
        _day("shelf_day", "shelf day", "On the shelf by this day.", "2026-03-28"),
        _whole("low", "low", "Low guess.", "80", "packs"),
        _whole("likely", "likely", "Likely number.", "120", "packs"),
        _whole("high", "high", "High guess.", "160", "packs"),
        _PRIORITY,
    ), "sales", unique=("id",), most_rows=5000),
    Table("stock", t.StockLot, "What is there when the season begins.", (
        _text("lot", "lot", "Number or name of the lot.", "S-1"),
        _whole("quantity", "quantity", "Pieces of the design, or packs of the product.", "1200", "pieces or packs",
               low=1),
        _day("made", "made", "The day of the boil.", "2026-01-20"),
        _ref("design", "designs", "Loose pieces of this design; or give a product.", "Lighthouse"),
        _ref("product", "products", "Finished packs of this product; or give a design.", "Harbour tin"),
    ), "sales", unique=("lot",)),
    Table("pins", t.Pin, "Your own decisions, which the plan keeps.", (
        _choice("kind", "decision", t.PinKind,
                "make or do not make (day, design); no making (day); works or off (day, person); "
                "not in role (person, role, and a day or every day).", "make"),
        _day("day", "day", "The day.", "2026-03-10"),
        _ref("design", "designs", "With make and do not make.", "Lighthouse"),
        _whole("batches", "batches", "With make: at least this many.", "1", "batches", low=1, high=100),
        _ref("person", "crew", "With works, off and not in role.", "Ada"),
        _ref("role", "roles", "With not in role.", "puller"),
    ), "sales"),
    Table("prices", Price, "What a change would cost beside wages, for the remedies of a shortage; "
          "a change without a row has no price.", (
        _choice("kind", "change", PriceKind,
                "further place (once, of a station); extra helper (a day, wage and all); training (a level up, "
                "of a person); open day (a day); later due day (a day later, of an order); part delivery (of an "
                "order); better packing (for the season, of a design); early supplies (of a design).", "further place"),
        _money("cents", "price", "What it costs.", "240.00", "a change, day or level"),
        _text("of", "of", "The station, person, order or design that has this price; blank: all others.",
              "cooling table"),
    ), "sales", unique=("kind", "of"), most_rows=400),
    Table("materials", Material, "What has to be bought, for the sheet To buy; no table, no sheet.", (
        _text("name", "name", "What it is.", "jars"),
        _text("unit", "unit", "In what it is counted, in whole numbers.", "pieces"),
        _whole("there", "there", "How much is there when the plan begins.", "96", "of the unit", high=100 * MILLION),
        _whole("arrives_days", "arrives after days", "Calendar days from ordering it to having it.", "42", "days",
               high=400),
        _whole("comes_in", "comes in", "What is ordered is a multiple of this.", "24", "of the unit", low=1),
    ), "sales", unique=("name",), most_rows=400),
    Table("uses", Use, "How much a batch or a pack takes of what has to be bought.", (
        _ref("material", "materials", "What is taken.", "jars"),
        _whole("amount", "amount", "How much of it, in its unit.", "1", "of the unit", low=1),
        _ref("design", "designs", "Each batch of this design takes it; or give a product; neither: every batch.",
             "Lighthouse"),
        _ref("product", "products", "Each pack of this product takes it; or give a design.", "Harbour tin"),
    ), "sales", unique=("material", "design", "product"), most_rows=5000),
    Table("made", t.MadeBatch, "What became of each batch.", (
        _day("day", "day", "The day of the boil.", "2026-03-10"),
        _text("batch", "batch", "Number of the batch, from the run sheet.", "0310-2"),
        _ref("design", "designs", "The design.", "Lighthouse"),
        _choice("outcome", "outcome", t.Outcome, "made, failed, or not started.", "made"),
        _whole("pieces", "pieces", "Pieces counted that can be sold.", "880", "pieces"),
        _whole("seconds", "seconds", "Pieces sold as seconds.", "60", "pieces"),
        _text("remark", "remark", "Your own remark.", "grained at the ends"),
    ), "facts", unique=("batch",), most_rows=5000),
    Table("packed", t.PackedPacks, "What was packed.", (
        _day("day", "day", "The day.", "2026-03-12"),
        _ref("product", "products", "What.", "Harbour tin"),
        _whole("packs", "packs", "How many, on that day in all.", "40", "packs"),
        _text("remark", "remark", "Your own remark; \"as planned\" where nobody counted.", "two jars broke"),
    ), "facts", most_rows=10_000),
    Table("shipped", t.ShippedPacks, "What left the kitchen.", (
        _day("day", "day", "The day.", "2026-03-13"),
        _ref("order", "orders or forecasts", "For which order or forecast.", "W-104"),
        _whole("packs", "packs", "How many.", "40", "packs"),
        _text("remark", "remark", "Your own remark; \"as planned\" where nobody counted.", "collected by the customer"),
    ), "facts", most_rows=10_000),
)
BY_NAME: dict[str, Table] = {table.name: table for table in TABLES}
KEY_FIELD: dict[str, str] = {
    "stations": "name", "stages": "name", "roles": "name", "designs": "name", "crew": "name",
    "products": "name", "orders": "id", "forecasts": "id", "materials": "name",
}
