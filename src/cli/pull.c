/* The commands that look at pulls, and discard: list, curve, show, discard, export. */
#include "base/number.h"
#include "base/words.h"
#include "book/hold.h"
#include "book/keep.h"
#include "cli/air_from.h"
#include "cli/command.h"
#include "cli/held.h"
#include "desk/add.h"
#include "desk/amend.h"
#include "desk/doubt.h"
#include "cli/curve_note.h"
#include "desk/curve_note.h"
#include "desk/found.h"
#include "desk/question.h"
#include "desk/record_gate.h"
#include "desk/trip.h"
#include "pull/findings.h"
#include "pull/plausible.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

static const struct ew_option_spec list_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"engine", EW_TEXT("NAME"), EW_TEXT("pulls of this engine only"), FALSE},
    {NULL, NULL, NULL, FALSE}};

/* By the shop's clock. */
static void say_pull(const struct ew_pull_row *r, GTimeZone *zone, enum ew_unit_system units) {
  g_autofree char *at = ew_zone_show(zone, r->at);
  g_autofree char *mean = ew_quantity_format(EW_KIND_TORQUE, units, r->band_mean_n_m, 1);
  g_autoptr(GString) rest = g_string_new(r->changed ? "  " : NULL);
  if (r->changed)
    g_string_append(rest, r->changed);
  if (r->discarded)
    ew_words_append(rest, "  DISCARDED: %s", r->discarded);
  if (r->tripped)
    ew_words_append(rest, "  TRIPPED: %s", r->tripped);
  if (r->held) {
    g_autoptr(ew_message) finding = ew_message_read(r->held, strlen(r->held), NULL);
    g_autofree char *text = finding ? ew_message_text(finding, units) : g_strdup(r->held);
    ew_words_append(rest, "  HELD: %s", text);
  }
  if (r->reading > 1)
    ew_words_append(rest, "  (amended, reading %lld)", (long long)r->reading);
  ew_say("%5lld  %.23s  %-8s %-6s to %#5.0f rpm  mean %s%s", (long long)r->id, at,
         ew_tr(r->purpose), ew_tr(r->kind), r->top_rpm, mean, rest->str);
}

static void write_pull(const void *row, struct ew_json *json) {
  const struct ew_pull_row *r = row;
  ew_json_integer(json, "id", r->id);
  ew_json_integer(json, "recording_id", r->recording_id);
  ew_json_text(json, "at", r->at);
  ew_json_text(json, "kind", r->kind);
  ew_json_text(json, "purpose", r->purpose);
  ew_json_integer(json, "run", r->run);
  ew_json_text(json, "day", r->day);
  ew_json_integer(json, "mounting", r->mounting);
  ew_json_number(json, "top_speed_rpm", r->top_rpm);
  ew_json_number(json, "band_mean_torque_n_m", r->band_mean_n_m);
  ew_json_text(json, "changed", r->changed);
  ew_json_text(json, "discarded", r->discarded);
  ew_json_text(json, "tripped", r->tripped);
  ew_pull_held_json(r, json);
}

static gboolean run_list(const struct ew_call *call, GError **error) {
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  const char *name = ew_call_option(call, "engine");
  struct ew_engine_row engine = {0};
  if (!book)
    return FALSE;
  if (name && !ew_engine_get(book, name, &engine, error))
    return FALSE;
  g_autoptr(GArray) rows = ew_pull_list(book, engine.id, error);
  ew_engine_row_clear(&engine);
  GTimeZone *zone = rows ? ew_book_zone(book, error) : NULL;
  if (!zone)
    return FALSE;
  if (call->json)
    ew_answer_rows(call, "pulls", rows, write_pull, NULL);
  for (guint i = 0; !call->json && i < rows->len; i++)
    say_pull(&g_array_index(rows, struct ew_pull_row, i), zone, call->units);
  if (!call->json && rows->len == 0)
    ew_say("no pulls yet: 'enginewright pull add FILE' adds one");
  else if (!call->json)
    ew_say("times by the shop's clock; mean: corrected torque over the speed band that counts of "
           "each pull "
           "('pull show')");
  return TRUE;
}
const struct ew_command ew_command_pull_list = {
    .name = "pull list",
    .summary = EW_TEXT("The pulls of the book, including discarded ones"),
    .takes = "",
    .options = list_options,
    .run = run_list,
    .examples = "pull list\npull list --json"};

static const struct ew_option_spec read_options[] = {
    EW_DESK_OPTIONS,
    {"part", "N", EW_TEXT("which pull of the file (default: the first)"), FALSE},
    {NULL, NULL, NULL, FALSE}};

/* The one pull that the arguments name, by id or by file. */
static struct ew_loaded *load_one(const struct ew_call *call, struct ew_desk *desk,
                                  GError **error) {
  g_autoptr(GPtrArray) all = g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free);
  double part;
  if (!ew_call_quantity(call, "part", EW_KIND_COUNT, 1, &part, error) ||
      !ew_desk_load(desk, ew_call_argument(call, 0), all, error))
    return NULL;
  if (part < 1 || part > all->len) {
    ew_refuse(error, "--part %.0f: pulls in the file: %u", part, all->len);
    return NULL;
  }
  return g_ptr_array_steal_index(all, (guint)part - 1);
}

/* "981.3 hPa (channel)", and what was said of it beside, when the recording knew better. */
static char *air_figure(const struct ew_loaded *l, enum ew_told_fact fact, enum ew_kind kind,
                        double value, const char *from, double said, enum ew_unit_system units) {
  int decimals = units == EW_UNITS_US && kind == EW_KIND_PRESSURE_ABSOLUTE ? 2 : 1;
  if (isnan(value))
    return g_strdup(ew_tr("not known"));
  g_autofree char *used = ew_quantity_format(kind, units, value, decimals);
  if (isnan(said) || strcmp(from, "channel") != 0) {
    g_autofree char *where = ew_call_air_from(from, l->row.told, fact);
    return ew_words("%s (%s)", used, where);
  }
  g_autofree char *given = ew_quantity_format(kind, units, said, decimals);
  return ew_words("%s (channel; it replaces the %s given by --set)", used, given);
}

static void say_air(const struct ew_loaded *l, enum ew_unit_system units) {
  const struct ew_conditions *c = &l->curve->conditions;
  double said = ew_setup_vapour_pa(&l->setup, c->pressure_pa, c->temperature_k);
  g_autofree char *pressure =
      air_figure(l, EW_TOLD_PRESSURE, EW_KIND_PRESSURE_ABSOLUTE, c->pressure_pa, c->pressure_from,
                 l->setup.pressure_pa, units);
  g_autofree char *temperature =
      air_figure(l, EW_TOLD_TEMPERATURE, EW_KIND_TEMPERATURE, c->temperature_k, c->temperature_from,
                 l->setup.temperature_k, units);
  g_autofree char *vapour = air_figure(l, EW_TOLD_HUMIDITY, EW_KIND_PRESSURE_ABSOLUTE, c->vapour_pa,
                                       c->humidity_from, said, units);
  ew_say("air: %s, %s, vapour %s", pressure, temperature, vapour);
}

static void say_curve(const struct ew_loaded *l, enum ew_unit_system units) {
  const struct ew_curve *c = l->curve;
  const char *torque_unit = ew_kind_shown(EW_KIND_TORQUE, units);
  ew_say("%8s %12s %8s %10s %12s", "", ew_tr("corrected"), "± (95 %)", ew_tr("corrected"),
         ew_tr("observed"));
  ew_say("%8s %12s %8s %10s %12s", ew_kind_shown(EW_KIND_ROTATIONAL_SPEED, EW_UNITS_SI),
         torque_unit, torque_unit, ew_kind_shown(EW_KIND_POWER, units), torque_unit);
  for (gsize j = 0; j < c->points; j++) {
    ew_say("%8.0f %12.1f %8.1f %10.1f %12.1f", c->speed_rpm[j],
           ew_shown(EW_KIND_TORQUE, units, c->torque_n_m[j]),
           2 * ew_shown(EW_KIND_TORQUE, units, c->torque_se_n_m[j]),
           ew_shown(EW_KIND_POWER, units, c->power_w[j]),
           ew_shown(EW_KIND_TORQUE, units, c->observed_n_m[j]));
  }
  ew_say(
      "± is the scatter of this pull's samples alone; 'pull explain' gives the full uncertainty");
  const char *title = ew_tr(ew_standard_titles[c->method.standard]),
             *reference = ew_tr(ew_standard_references[c->method.standard]);
  if (ew_curve_corrected(c) == EW_UNCORRECTED)
    ew_say("NOT CORRECTED: torque and power are as observed; %s (%s) was asked for", title,
           reference);
  else if (c->factor.in_range)
    ew_say("%s (%s): %.4f", title, reference, c->factor.factor);
  else
    ew_say("%s (%s): %.4f, OUT OF ITS RANGE", title, reference, c->factor.factor);
  say_air(l, units);
  ew_say_cautions(c->warnings, units);
}

static gboolean run_curve(const struct ew_call *call, GError **error) {
  struct ew_desk desk = {0};
  g_autoptr(ew_book) book = NULL;
  struct ew_loaded *l =
      ew_call_open_desk(call, &book, &desk, error) ? load_one(call, &desk, error) : NULL;
  if (l && call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_text(&json, "pull", l->name);
    ew_differs_json(l->differs, &json);
    ew_curve_write_json(l->curve, &json);
    ew_answer_end(&json);
  } else if (l)
    say_curve(l, call->units);
  gboolean good = l != NULL;
  ew_loaded_free(l);
  ew_desk_clear(&desk);
  return good;
}
const struct ew_command ew_command_pull_curve = {
    .name = "pull curve",
    .summary = EW_TEXT("The corrected curve of a pull"),
    .takes = EW_TEXT("PULL|FILE"),
    .least = 1,
    .most = 1,
    .options = read_options,
    .run = run_curve,
    .examples =
        "pull curve 12\npull curve run-07.csv --standard none --json\npull curve 12 --units us"};

static void write_one_trip(const void *row, struct ew_json *json) {
  ew_trip_row_json(row, json);
}

static void write_trips(struct ew_book *book, gint64 id, struct ew_json *json) {
  g_autoptr(GArray) rows = ew_trip_of_pull(book, id, NULL);
  ew_json_rows(json, "trips", rows, write_one_trip);
  ew_found_json(book, EW_FOUND_PULL, id, "seen", json);
  ew_curve_notes_json(book, id, "notes", json, NULL);
}

/* Notices too: a person who looks at one pull wants to know all that it said. */
static void say_trips(struct ew_book *book, gint64 id) {
  g_autoptr(GArray) rows = ew_trip_of_pull(book, id, NULL);
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_trip_row *t = &g_array_index(rows, struct ew_trip_row, i);
    g_autofree char *what = ew_trip_text(t);
    ew_say("tripped: %s", what);
  }
}

static void say_reading(const struct ew_pull_row *row) {
  if (row->reading > 1)
    ew_say("amended: this is reading %lld ('pull history %lld')", (long long)row->reading,
           (long long)row->id);
}

static gboolean run_show(const struct ew_call *call, GError **error) {
  struct ew_desk desk = {0};
  g_autoptr(ew_book) book = NULL;
  struct ew_loaded *l =
      ew_call_open_desk(call, &book, &desk, error) ? load_one(call, &desk, error) : NULL;
  if (!l) {
    ew_desk_clear(&desk);
    return FALSE;
  }
  const struct ew_curve *c = l->curve;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_text(&json, "pull", l->name);
    ew_json_integer(&json, "id", l->id);
    ew_differs_json(l->differs, &json);
    ew_json_text(&json, "changed", l->row.changed);
    ew_json_text(&json, "discarded", l->row.discarded);
    if (l->id)
      ew_pull_held_json(&l->row, &json);
    if (l->id)
      write_trips(book, l->id, &json);
    ew_json_open(&json, "setup");
    ew_fields_write_json(&ew_setup_fields, &l->setup, &json);
    ew_json_close(&json);
    ew_curve_write_json(c, &json);
    ew_answer_end(&json);
  } else {
    gsize peak = ew_curve_peak(c, c->power_w), torque = ew_curve_peak(c, c->torque_n_m);
    const char *kind = ew_tr(ew_segment_kind_names[c->kind]);
    g_autofree char *name =
        l->numbered ? ew_message_text(l->numbered, call->units) : g_strdup(l->name);
    if (l->row.discarded)
      ew_say("%s: %s, %#.0f to %#.0f rpm; DISCARDED: %s", name, kind, c->low_rpm, c->high_rpm,
             l->row.discarded);
    else
      ew_say("%s: %s, %#.0f to %#.0f rpm", name, kind, c->low_rpm, c->high_rpm);
    g_autofree char *power = ew_quantity_format(EW_KIND_POWER, call->units, c->power_w[peak], 1);
    g_autofree char *most =
        ew_quantity_format(EW_KIND_TORQUE, call->units, c->torque_n_m[torque], 1);
    g_autofree char *mean = ew_quantity_format(EW_KIND_TORQUE, call->units, c->band_mean_n_m, 1);
    ew_say("highest power %s at %#.0f rpm, highest torque %s at %#.0f rpm", power,
           c->speed_rpm[peak], most, c->speed_rpm[torque]);
    if (ew_curve_peak_is_at_end(c, c->power_w))
      ew_say("the highest power is at an end of the curve: the peak may lie beyond it");
    if (ew_curve_peak_is_at_end(c, c->torque_n_m))
      ew_say("the highest torque is at an end of the curve: the peak may lie beyond it");
    ew_say("mean torque %s over %#.0f to %#.0f rpm", mean, c->band_low_rpm, c->band_high_rpm);
    if (l->id) {
      say_reading(&l->row);
      ew_call_say_held(book, l->id, call->units);
    }
    if (l->row.changed)
      ew_say("changed: %s", l->row.changed);
    if (l->id) {
      say_trips(book, l->id);
      ew_call_say_curve_notes(book, l->id, FALSE, NULL);
    }
    for (gsize i = 0; i < ew_setup_fields.count; i++) {
      g_autofree char *value = ew_field_show(&ew_setup_fields.fields[i], &l->setup, call->units);
      if (value)
        ew_say("  %-16s %s", ew_setup_fields.fields[i].name, value);
    }
    ew_say("cleaned in the part that counts: %zu spikes, %zu dropouts, %zu flat, %zu saturated, "
           "%zu lost",
           c->cleaned.spikes, c->cleaned.dropouts, c->cleaned.flat, c->cleaned.saturated,
           c->cleaned.lost);
    say_air(l, call->units);
    ew_say_cautions(c->warnings, call->units);
  }
  ew_loaded_free(l);
  ew_desk_clear(&desk);
  return TRUE;
}
const struct ew_command ew_command_pull_show = {
    .name = "pull show",
    .summary = EW_TEXT("A pull with its set-up, conditions and cleaning"),
    .takes = EW_TEXT("PULL|FILE"),
    .least = 1,
    .most = 1,
    .options = read_options,
    .run = run_show,
    .examples = "pull show 12\npull show run-07.csv"};

static const struct ew_option_spec discard_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"reason", EW_TEXT("TEXT"), EW_TEXT("why; the reason is kept with the pull"), FALSE},
    {"take-back", NULL, EW_TEXT("count the pull again"), FALSE},
    {NULL, NULL, NULL, FALSE}};

static gboolean run_discard(const struct ew_call *call, GError **error) {
  const char *reason = ew_call_option(call, "reason"), *what = ew_call_argument(call, 0);
  gboolean back = ew_call_has(call, "take-back");
  if (!back && (!reason || !*reason))
    return ew_refuse(error, "--reason is needed: a discarded pull is kept with its reason");
  if (strspn(what, "0123456789") != strlen(what) || !*what)
    return ew_refuse(error, "'%s' is not a pull number; 'enginewright pull list' lists the pulls",
                     what);
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  gint64 id = g_ascii_strtoll(what, NULL, 10);
  if (!book || !ew_keep_discard(book, id, back ? "" : reason, error))
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_integer(&json, "id", id);
    ew_json_text(&json, "discarded", back ? NULL : reason);
    ew_answer_end(&json);
  } else
    ew_say(back ? EW_TEXT("pull %s counts again")
                : EW_TEXT("pull %s is discarded and stays in the book"),
           what);
  return TRUE;
}
const struct ew_command ew_command_pull_discard = {
    .name = "pull discard",
    .summary = EW_TEXT("Leave a pull out of every judgement; it is kept, with the reason"),
    .takes = EW_TEXT("PULL"),
    .least = 1,
    .most = 1,
    .options = discard_options,
    .run = run_discard,
    .examples =
        EW_TEXT("pull discard 9 --reason \"throttle cable slipped\"\npull discard 9 --take-back")};

static const struct ew_option_spec export_options[] = {
    EW_DESK_OPTIONS,
    {"out", EW_TEXT("FILE"), EW_TEXT("where to write (default: standard output)"), FALSE},
    {NULL, NULL, NULL, FALSE}};

static gboolean run_export(const struct ew_call *call, GError **error) {
  const char *path = ew_call_option(call, "out");
  if (path && !ew_call_place(path, error))
    return FALSE;
  struct ew_desk desk = {0};
  g_autoptr(ew_book) book = NULL;
  struct ew_loaded *l =
      ew_call_open_desk(call, &book, &desk, error) ? load_one(call, &desk, error) : NULL;
  if (!l) {
    ew_desk_clear(&desk);
    return FALSE;
  }
  const struct ew_curve *c = l->curve;
  GString *text = g_string_new("speed_rpm,torque_n_m,torque_se_n_m,power_w,observed_torque_n_m");
  for (guint i = 0; i < c->columns->len; i++) {
    const struct ew_curve_column *column = &g_array_index(c->columns, struct ew_curve_column, i);
    g_string_append_printf(text, ",%s", column->key);
    if (column->index)
      g_string_append_printf(text, "_%d", column->index);
    g_string_append(text, ew_kind_suffix(column->kind));
  }
  g_string_append_c(text, '\n');
  for (gsize j = 0; j < c->points; j++) {
    double head[] = {c->speed_rpm[j], c->torque_n_m[j], c->torque_se_n_m[j], c->power_w[j],
                     c->observed_n_m[j]};
    char buffer[EW_NUMBER_SIZE];
    for (gsize k = 0; k < G_N_ELEMENTS(head); k++)
      g_string_append_printf(text, "%s%s", k ? "," : "",
                             isnan(head[k]) ? "" : ew_number_write(head[k], buffer));
    for (guint i = 0; i < c->columns->len; i++) {
      double value = g_array_index(c->columns, struct ew_curve_column, i).values[j];
      g_string_append_printf(text, ",%s", isnan(value) ? "" : ew_number_write(value, buffer));
    }
    g_string_append_c(text, '\n');
  }
  g_autoptr(GError) problem = NULL;
  gboolean good = TRUE;
  if (path && !g_file_set_contents(path, text->str, (gssize)text->len, &problem))
    good = ew_fail(error, "%s", problem->message);
  if (!path)
    fputs(text->str, stdout);
  else if (good)
    ew_say("%s", path);
  g_string_free(text, TRUE);
  ew_loaded_free(l);
  ew_desk_clear(&desk);
  return good;
}
const struct ew_command ew_command_pull_export = {.name = "pull export",
                                                  .prints_text = TRUE,
                                                  .summary = EW_TEXT("A curve as CSV, in SI"),
                                                  .takes = EW_TEXT("PULL|FILE"),
                                                  .least = 1,
                                                  .most = 1,
                                                  .options = export_options,
                                                  .run = run_export,
                                                  .examples = "pull export 12 --out pull-12.csv"};
