/* pull add: files into the book, one after the other, each whole or not at all; then what came of each, so that nobody has to ask. */
#include "book/hold.h"
#include "cli/command.h"
#include "cli/held.h"
#include "desk/add.h"
#include "desk/doubt.h"
#include "desk/record_gate.h"
#include "pull/findings.h"
#include <stdio.h>
#include <string.h>

static const struct ew_option_spec add_options[] = {
    EW_DESK_OPTIONS,
    {"engine", EW_TEXT("NAME"), EW_TEXT("which engine of the book (default: the one in the cell)"),
     FALSE},
    {"changed", EW_TEXT("TEXT"), EW_TEXT("what was changed since the last pull, in one line"),
     FALSE},
    {"purpose", EW_TEXT("WHAT"), EW_TEXT("pull, heat or break-in; only pulls are judged"), FALSE},
    {"at", EW_TEXT("TIME"),
     EW_TEXT(
         "when it ran, by the shop's clock: \"2026-11-30 16:50\" (default: as the file says, else "
         "when it was written)"),
     FALSE},
    {"after-stop", NULL, EW_TEXT("the engine was stopped after the last pull"), FALSE},
    {"remounted", NULL, EW_TEXT("the engine was taken off the dyno after the last pull"), FALSE},
    {NULL, NULL, NULL, FALSE},
};

static gboolean check_add(const struct ew_call *call, GError **error) {
  const char *purpose = ew_call_option(call, "purpose");
  if (purpose && strcmp(purpose, "pull") && strcmp(purpose, "heat") && strcmp(purpose, "break-in"))
    return ew_refuse(error, "--purpose '%s' is not one of pull, heat, break-in", purpose);
  if (call->arguments->len > 1 && (call->json || ew_call_has(call, "at")))
    return ew_refuse(error, "%s: one file at a time", call->json ? "--json" : "--at");
  return TRUE;
}

EW_MESSAGE(open_steps, "desk.open-steps", EW_CAUTION,
           "{engine}: {steps} ('build check --before load' lists them)");

/* Steps of the engine's build that are open before load, as a note to the pull. */
static void note_open_steps(struct ew_book *book, const char *engine, GPtrArray *notes) {
  struct ew_engine_row row;
  g_autoptr(ew_message) why = NULL;
  if (!ew_engine_find(book, engine, &row, NULL) || !row.id)
    return; /* what could not be read is reported at the end */
  if (ew_gate_look(book, row.id, &why, NULL) && why)
    ew_messages_add(notes, ew_message(&open_steps, ew_say_text("engine", row.name),
                                      ew_say_message("steps", why)));
  ew_engine_row_clear(&row);
}

/* What came of it, so that nobody has to ask for what he added. */
static void say_added_pull(struct ew_desk *desk, gint64 id, enum ew_unit_system units) {
  struct ew_loaded *l = ew_desk_load_id(desk, id, NULL);
  if (!l) {
    ew_say("pull %lld", (long long)id);
    return;
  }
  const struct ew_curve *c = l->curve;
  gsize peak = ew_curve_peak(c, c->power_w);
  g_autofree char *power = ew_quantity_format(EW_KIND_POWER, units, c->power_w[peak], 1);
  g_autofree char *mean = ew_quantity_format(EW_KIND_TORQUE, units, c->band_mean_n_m, 1);
  const char *kind = ew_tr(ew_segment_kind_names[c->kind]);
  if (ew_curve_peak_is_at_end(c, c->power_w))
    ew_say(
        "pull %lld: %s to %#.0f rpm, %s at %#.0f rpm (the end of the curve), mean torque %s over "
        "%#.0f to %#.0f rpm",
        (long long)id, kind, c->high_rpm, power, c->speed_rpm[peak], mean, c->band_low_rpm,
        c->band_high_rpm);
  else
    ew_say("pull %lld: %s to %#.0f rpm, %s at %#.0f rpm, mean torque %s over %#.0f to %#.0f rpm",
           (long long)id, kind, c->high_rpm, power, c->speed_rpm[peak], mean, c->band_low_rpm,
           c->band_high_rpm);
  ew_say_cautions(c->warnings, units);
  if (c->out_of_range && ew_message_is(c->out_of_range, &ew_pull_weather_unknown))
    ew_say("to give the weather: enginewright pull amend %lld --set \"pressure=%s\" --set "
           "\"temperature=%s\" --set \"humidity=50 %%\" --reason \"...\", with what the "
           "barometer, thermometer and hygrometer read then",
           (long long)id, units == EW_UNITS_US ? "29.20 inHg" : "985 hPa",
           units == EW_UNITS_US ? "77 degF" : "25 degC");
  ew_call_say_held(desk->book, id, units);
  ew_loaded_free(l);
}

static void answer_added(const struct ew_call *call, struct ew_desk *desk, const char *path,
                         const struct ew_added *added) {
  if (!call->json) {
    ew_say("%s: %zu rows, %zu channels, SHA-256 %.16s…", path, added->rows, added->channels,
           added->sha256);
    for (guint i = 0; i < added->pull_ids->len; i++)
      say_added_pull(desk, g_array_index(added->pull_ids, gint64, i), call->units);
    g_autoptr(GPtrArray) notes = ew_messages_texts(added->notes, call->units);
    for (guint i = 0; i < notes->len; i++)
      ew_say("note: %s", (char *)g_ptr_array_index(notes, i));
    return;
  }
  struct ew_json json = ew_answer_begin();
  ew_json_integer(&json, "recording_id", added->recording_id);
  ew_json_open_array(&json, "pull_ids");
  for (guint i = 0; i < added->pull_ids->len; i++)
    ew_json_integer(&json, NULL, g_array_index(added->pull_ids, gint64, i));
  ew_json_close_array(&json);
  ew_json_integer(&json, "rows", (gint64)added->rows);
  ew_json_integer(&json, "channels", (gint64)added->channels);
  ew_json_text(&json, "sha256", added->sha256);
  ew_json_boolean(&json, "known_before", added->known_before);
  ew_messages_write_json(added->notes, "notes", EW_UNITS_SI, &json);
  ew_held_json(desk->book, added->pull_ids, &json);
  ew_answer_end(&json);
}

/* One file, whole or not at all. */
static gboolean add_one(const struct ew_call *call, struct ew_desk *desk, const char *path,
                        const struct ew_add_options *options, GError **error) {
  struct ew_added added;
  if (!ew_add_file(desk, path, options, &added, error))
    return FALSE;
  if (added.pull_ids->len)
    note_open_steps(desk->book, options->engine, added.notes);
  answer_added(call, desk, path, &added);
  ew_added_clear(&added);
  return TRUE;
}

static gboolean run_add(const struct ew_call *call, GError **error) {
  if (!check_add(call, error))
    return FALSE;
  g_autoptr(ew_book) book = ew_call_book(call, TRUE, TRUE, error);
  struct ew_desk desk = {0};
  if (!book || !ew_call_desk(call, book, &desk, error))
    return FALSE;
  g_autofree const char **sets = ew_call_options(call, "set");
  g_autofree char *map = g_strdup(desk.channel_map);
  struct ew_add_options options = {.engine = ew_call_option(call, "engine"),
                                   .sets = sets,
                                   .changed = ew_call_option(call, "changed"),
                                   .purpose = ew_call_option(call, "purpose"),
                                   .channel_map = map,
                                   .at = ew_call_option(call, "at"),
                                   .after_stop = ew_call_has(call, "after-stop"),
                                   .remounted = ew_call_has(call, "remounted"),
                                   .progress = ew_call_progress()};
  gboolean good = TRUE;
  for (guint i = 0; good && i < call->arguments->len; i++) {
    good = add_one(call, &desk, ew_call_argument(call, i), &options, error);
    /* what was done before the first file was not done again before the second */
    options.changed = NULL;
    options.after_stop = options.remounted = FALSE;
  }
  ew_desk_clear(&desk);
  return good;
}
const struct ew_command ew_command_pull_add = {
    .name = "pull add",
    .summary = EW_TEXT("Add a recording to the book: raw data kept, pulls found, curves computed"),
    .takes = EW_TEXT("FILE..."),
    .least = 1,
    .most = -1,
    .options = add_options,
    .run = run_add,
    .examples =
        EW_TEXT("pull add run-07.csv --set \"spark=30 deg\" --changed \"two degrees more\"\n"
                "pull add run-01.csv --purpose heat --after-stop --set \"pressure=985 hPa\" --set "
                "\"humidity=60 %\"\n"
                "pull add run-02.csv run-03.csv run-04.csv --set \"spark=28 deg\""),
    .more =
        EW_TEXT("The set-up of the last pull is carried forward; --set changes one field. Fields: "
                "spark, lambda, jets,\nlash_inlet, lash_exhaust, plugs, oil, oil_level, fuel, "
                "equipment, header, parts, remark and more; weather that no\nchannel records: "
                "pressure, temperature, humidity (or dew_point, wet_bulb).")};
