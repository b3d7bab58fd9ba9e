/* The cell: what it repeats to, its calibration, and practice days. */
#include "base/number.h"
#include "base/as_pointer.h"
#include "desk/alike.h"
#include "book/keep.h"
#include "base/words.h"
#include "cli/command.h"
#include "desk/load_cell.h"
#include "desk/day.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

static const struct ew_option_spec book_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"engine", EW_TEXT("NAME"), EW_TEXT("pulls of this engine only"), FALSE},
    {NULL, NULL, NULL, FALSE}};

static gboolean run_repeatability(const struct ew_call *call, GError **error) {
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  struct ew_desk desk = {0};
  if (!book || !ew_desk_open(&desk, book, error))
    return FALSE;
  struct ew_engine_row engine = {0};
  const char *name = ew_call_option(call, "engine");
  if (name && !ew_engine_get(book, name, &engine, error))
    return FALSE;
  struct ew_learned learned = ew_desk_history(&desk, engine.id, NULL);
  const struct ew_spread *levels = learned.levels;
  struct ew_json json = {0};
  if (call->json) {
    json = ew_answer_begin();
    ew_json_open(&json, "levels");
  } else
    ew_say("%-20s %10s %10s %14s", ew_tr("level"), "s_r", "2.8 s_r", ew_tr("deg. of freedom"));
  for (int i = 0; i < EW_LEVELS_COUNT; i++) {
    if (call->json) {
      ew_json_open(&json, ew_level_names[i]);
      ew_json_number(&json, "relative_sd", levels[i].sd);
      ew_json_number(&json, "degrees_of_freedom", levels[i].freedom);
      ew_json_boolean(&json, "borrowed", levels[i].borrowed);
      ew_json_close(&json);
    } else if (levels[i].freedom > 0)
      ew_say("%-20s %8.2f %% %8.2f %% %14.1f  %s", ew_tr(ew_level_words[i]->text),
             100 * levels[i].sd, 280 * levels[i].sd, levels[i].freedom,
             levels[i].borrowed ? ew_tr("no pulls of this level yet: a starting figure is added")
                                : "");
    else
      ew_say("%-20s %10s", ew_tr(ew_level_words[i]->text), ew_tr("not known"));
  }
  if (call->json) {
    ew_json_close(&json);
    ew_answer_end(&json);
  } else if (engine.name)
    ew_say("of the mean torque over the speed band that counts, from like pulls of %s",
           engine.name);
  else
    ew_say("of the mean torque over the speed band that counts, from like pulls of every engine in "
           "the book");
  ew_engine_row_clear(&engine);
  ew_desk_clear(&desk);
  return TRUE;
}
const struct ew_command ew_command_cell_repeatability = {
    .name = "cell repeatability",
    .summary = EW_TEXT("How well this cell repeats: back to back, after a restart, from day to "
                       "day, after remounting"),
    .takes = "",
    .options = book_options,
    .run = run_repeatability,
    .examples = "cell repeatability"};

static const struct ew_option_spec practice_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the book to run the day in; made if it does not exist"),
     FALSE},
    {"files", EW_TEXT("FOLDER"), EW_TEXT("also write each recording here"), FALSE},
    {"report", EW_TEXT("FILE"), EW_TEXT("write the day's report here (PDF)"), FALSE},
    {NULL, NULL, NULL, FALSE}};

static void say_line(const char *line, gpointer user) {
  (void)user;
  ew_say("%s", line);
}

static gboolean run_practice(const struct ew_call *call, GError **error) {
  const char *path = ew_call_argument(call, 0);
  g_autoptr(ew_node) script = ew_node_read(path, error);
  if (!script)
    return FALSE;
  if (!ew_call_has(call, "book"))
    return ew_refuse(error,
                     "--book is needed: a practice day does not go into the shop's own book");
  const char *report = ew_call_option(call, "report");
  if (report && !ew_call_place(report, error))
    return FALSE;
  g_autoptr(ew_book) book = ew_call_book(call, TRUE, TRUE, error);
  const struct ew_day_watch watch = {call->json ? NULL : say_line, ew_call_progress(), NULL};
  if (!book ||
      !ew_run_day(book, script, path, ew_call_option(call, "files"), report, &watch, error))
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_text(&json, "book", ew_call_option(call, "book"));
    ew_json_text(&json, "recordings", ew_call_option(call, "files"));
    ew_json_text(&json, "report", report);
    ew_answer_end(&json);
  }
  return TRUE;
}
const struct ew_command ew_command_cell_practice = {
    .name = "cell practice",
    .summary = EW_TEXT("A simulated test day by script, through the same code as a real one"),
    .takes = EW_TEXT("SCRIPT"),
    .least = 1,
    .most = 1,
    .options = practice_options,
    .run = run_practice,
    .examples =
        "cell practice examples/days/hill-climb-six.yaml --book practice.book --report report.pdf"};

static const struct ew_option_spec calibrate_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"arm", "Q", EW_TEXT("length of the calibration arm"), FALSE},
    {"weight", EW_TEXT("MASS=TORQUE"),
     EW_TEXT("hung weight and what was read, in the order of loading and unloading"), TRUE},
    {"channel", EW_TEXT("CHANNEL"),
     EW_TEXT(
         "another sensor than the load cell: barometer, inlet_air_temperature, lambda, air_flow"),
     FALSE},
    {"point", EW_TEXT("TRUE=READ"),
     EW_TEXT("with --channel: what it was given and what it read, such as \"100 kPa=100.3 kPa\""),
     TRUE},
    {"gravity", "N", EW_TEXT("local gravity in m/s2 (9.80665)"), FALSE},
    {"valid", "Q", EW_TEXT("how long it is valid (90 days)"), FALSE},
    {"note", EW_TEXT("TEXT"), EW_TEXT("as found, as left, who"), FALSE},
    {NULL, NULL, NULL, FALSE},
};

static gboolean read_weights(const struct ew_call *call, double arm, double gravity, GArray *points,
                             GError **error) {
  g_autofree const char **list = ew_call_options(call, "weight");
  for (int i = 0; list[i]; i++) {
    g_auto(GStrv) parts = g_strsplit(list[i], "=", 2);
    double mass, torque;
    if (!parts[0] || !parts[1])
      return ew_refuse(error, "--weight '%s': write MASS=TORQUE, for example \"20 kg=98.2 N·m\"",
                       list[i]);
    if (!ew_quantity_parse("--weight, mass", parts[0], EW_KIND_MASS, &mass, error) ||
        !ew_quantity_parse("--weight, torque read", parts[1], EW_KIND_TORQUE, &torque, error))
      return FALSE;
    struct ew_calibration_point point = {mass * gravity * arm, torque};
    g_array_append_val(points, point);
  }
  return TRUE;
}

/* Points of another sensor than the load cell, in the inside unit of its channel. */
static gboolean read_points(const struct ew_call *call, enum ew_channel channel, GArray *points,
                            GError **error) {
  g_autofree const char **list = ew_call_options(call, "point");
  enum ew_kind kind = ew_channel_facts[channel].kind;
  for (int i = 0; list[i]; i++) {
    g_auto(GStrv) parts = g_strsplit(list[i], "=", 2);
    struct ew_calibration_point point;
    if (!parts[0] || !parts[1])
      return ew_refuse(error, "--point '%s': write TRUE=READ, for example \"100 kPa=100.3 kPa\"",
                       list[i]);
    if (!ew_quantity_parse("--point, true", parts[0], kind, &point.applied, error) ||
        !ew_quantity_parse("--point, read", parts[1], kind, &point.read, error))
      return FALSE;
    g_array_append_val(points, point);
  }
  return TRUE;
}

static gboolean read_channel(const struct ew_call *call, enum ew_channel *channel, GError **error) {
  const char *key = ew_call_option(call, "channel");
  *channel = key ? ew_channel_by_key(key) : EW_CHANNEL_TORQUE;
  if (*channel == EW_CHANNELS_COUNT)
    return ew_refuse(error, "--channel '%s' is not a channel, such as barometer or lambda", key);
  if (*channel == EW_CHANNEL_TORQUE ? ew_call_has(call, "point") : ew_call_has(call, "weight"))
    return ew_refuse(error, "--weight is of the load cell, --point of another --channel");
  return TRUE;
}

static gboolean read_arm(const struct ew_call *call, GArray *points, GError **error) {
  double arm, gravity;
  if (!ew_call_quantity(call, "arm", EW_KIND_LENGTH, NAN, &arm, error) ||
      !ew_call_quantity(call, "gravity", EW_KIND_NUMBER, EW_GRAVITY_M_S2, &gravity, error))
    return FALSE;
  if (!(arm > 0.02 && arm < 5))
    return ew_refuse(error, "--arm is needed, between 20 mm and 5 m, for example --arm \"500 mm\"");
  if (!(gravity > 9.7 && gravity < 9.9))
    return ew_refuse(error, "--gravity: %.3f is outside 9.7 to 9.9 m/s2", gravity);
  return read_weights(call, arm, gravity, points, error);
}

static void say_held(const struct ew_calibration_kept *kept) {
  if (kept->held->len == 0)
    return;
  g_autoptr(GString) ids = g_string_new(NULL);
  for (guint i = 0; i < kept->held->len; i++)
    g_string_append_printf(ids, "%s%" G_GINT64_FORMAT, i ? ", " : "",
                           g_array_index(kept->held, gint64, i));
  ew_say("held until each is answered, 'pull show' says what it would change: pulls %s", ids->str);
}

static void write_held(const struct ew_calibration_kept *kept, struct ew_json *json) {
  ew_json_open_array(json, "held");
  for (guint i = 0; i < kept->held->len; i++)
    ew_json_integer(json, NULL, g_array_index(kept->held, gint64, i));
  ew_json_close_array(json);
}

static void say_calibrated(const struct ew_calibration *c, enum ew_channel channel,
                           const char *until, const struct ew_calibration_kept *kept) {
  if (channel == EW_CHANNEL_TORQUE)
    ew_say("gain %.5f ± %.5f, offset %.2f ± %.2f N·m, scatter %.2f N·m, hysteresis %.2f N·m, from "
           "%zu points",
           c->gain, 2 * c->gain_u, c->offset, 2 * c->offset_u, c->residual_sd, c->hysteresis,
           c->points);
  else
    ew_say("%s: gain %.5f ± %.5f, offset %.5g ± %.2g, from %zu points",
           ew_tr(ew_channel_facts[channel].label), c->gain, 2 * c->gain_u, c->offset,
           2 * c->offset_u, c->points);
  ew_say("± at 95 %%; valid until %.10s; from now on it is applied to the raw of every pull",
         until);
  if (!isnan(kept->change) && !kept->good)
    ew_say("caution: the gain moved by %+.2f %%, over the cell's limit", 100 * kept->change);
  say_held(kept);
}

/* Keeps a row with what it puts in doubt; the book and its desk are opened for it. */
static gboolean keep_row(const struct ew_call *call, const struct ew_calibration_row *row,
                         struct ew_calibration_kept *kept, GError **error) {
  g_autoptr(ew_book) book = ew_call_book(call, TRUE, TRUE, error);
  struct ew_desk desk = {0};
  gboolean good =
      book && ew_desk_open(&desk, book, error) && ew_desk_calibration_keep(&desk, row, kept, error);
  ew_desk_clear(&desk);
  return good;
}

static gboolean line_of(const GArray *points, enum ew_channel channel, struct ew_calibration *c,
                        GError **error) {
  const struct ew_calibration_point *p = (const struct ew_calibration_point *)(void *)points->data;
  return channel == EW_CHANNEL_TORQUE ? ew_load_cell_line(p, points->len, c, error)
                                      : ew_calibrate(p, points->len, c, error);
}

static gboolean run_calibrate(const struct ew_call *call, GError **error) {
  double valid;
  enum ew_channel channel;
  g_autoptr(GArray) points = g_array_new(FALSE, FALSE, sizeof(struct ew_calibration_point));
  struct ew_calibration c;
  if (!ew_call_quantity(call, "valid", EW_KIND_TIME, EW_CALIBRATION_VALID_S, &valid, error) ||
      !read_channel(call, &channel, error) ||
      !(channel == EW_CHANNEL_TORQUE ? read_arm(call, points, error)
                                     : read_points(call, channel, points, error)) ||
      !line_of(points, channel, &c, error))
    return FALSE;
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open(&json, NULL);
  ew_calibration_facts(&c, channel, &json);
  ew_json_close(&json);
  g_autofree char *until = ew_calibration_until(valid);
  struct ew_calibration_row row = {.kind = (char *)"calibration",
                                   .valid_until = until,
                                   .value = c.gain,
                                   .json = json.text->str,
                                   .note = ew_as_pointer(ew_call_option(call, "note"))};
  struct ew_calibration_kept kept;
  gboolean good = keep_row(call, &row, &kept, error);
  g_string_free(json.text, TRUE);
  if (!good)
    return FALSE;
  if (call->json) {
    struct ew_json answer = ew_answer_begin();
    ew_calibration_facts(&c, channel, &answer);
    ew_json_number(&answer, "gain_change", kept.change);
    write_held(&kept, &answer);
    ew_answer_end(&answer);
  } else
    say_calibrated(&c, channel, until, &kept);
  ew_calibration_kept_clear(&kept);
  return TRUE;
}
const struct ew_command ew_command_cell_calibrate = {
    .name = "cell calibrate",
    .summary = EW_TEXT("Load-cell calibration with weights on an arm, up and down"),
    .takes = "",
    .options = calibrate_options,
    .run = run_calibrate,
    .examples = "cell calibrate --arm \"500 mm\" --weight \"10 kg=49.1 N·m\" --weight \"20 kg=98.2 "
                "N·m\" --weight \"10 kg=49.2 N·m\"",
    .more =
        EW_TEXT("Hang the weights with the engine stopped and the shaft free, nobody under them; "
                "follow the dyno maker's procedure.")};

static const struct ew_option_spec zero_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"note", EW_TEXT("TEXT"), EW_TEXT("morning, evening, who"), FALSE},
    {NULL, NULL, NULL, FALSE}};

static void say_kept(const char *kind, const struct ew_calibration_kept *kept) {
  if (isnan(kept->chart.centre))
    ew_say("%s kept (%u so far; the control chart starts with the fourth)", ew_tr(kind),
           kept->count);
  else
    ew_say(kept->chart.in_control ? EW_TEXT("%s kept: inside the control limits %.4f to %.4f")
                                  : EW_TEXT("%s kept: OUTSIDE the control limits %.4f to %.4f"),
           ew_tr(kind), kept->chart.lower, kept->chart.upper);
  say_held(kept);
}

static gboolean record_value(const struct ew_call *call, const char *kind, double value,
                             const char *facts, GError **error) {
  struct ew_calibration_row row = {.kind = ew_as_pointer(kind),
                                   .value = value,
                                   .json = ew_as_pointer(facts),
                                   .note = ew_as_pointer(ew_call_option(call, "note"))};
  struct ew_calibration_kept kept;
  if (!keep_row(call, &row, &kept, error))
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_number(&json, "value", kept.value);
    ew_json_integer(&json, "count", kept.count);
    ew_json_number(&json, "centre", kept.chart.centre);
    ew_json_number(&json, "lower", kept.chart.lower);
    ew_json_number(&json, "upper", kept.chart.upper);
    ew_json_boolean(&json, "in_control", kept.good);
    write_held(&kept, &json);
    ew_answer_end(&json);
  } else
    say_kept(kind, &kept);
  gboolean good = kept.good;
  ew_calibration_kept_clear(&kept);
  return good ||
         ew_answer_no(error, "%s: outside its control limits; find out why before the next pull",
                      ew_tr(kind));
}

static gboolean run_zero(const struct ew_call *call, GError **error) {
  double torque, left;
  const char *after = ew_call_option(call, "left");
  if (!ew_quantity_parse("zero", ew_call_argument(call, 0), EW_KIND_TORQUE, &torque, error) ||
      (after && !ew_quantity_parse("--left", after, EW_KIND_TORQUE, &left, error)))
    return FALSE;
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open(&json, NULL);
  if (after)
    ew_json_number(&json, "left_n_m", left);
  ew_json_close(&json);
  gboolean good = record_value(call, EW_TEXT("zero"), torque, json.text->str, error);
  g_string_free(json.text, TRUE);
  return good;
}
static const struct ew_option_spec zero_only_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"left", "Q",
     EW_TEXT("what it reads after it was set to zero (default: it was left as it reads)"), FALSE},
    {"note", EW_TEXT("TEXT"), EW_TEXT("morning, evening, who"), FALSE},
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_cell_zero = {
    .name = "cell zero",
    .summary = EW_TEXT("The load cell's zero of today, on a control chart"),
    .takes = EW_TEXT("TORQUE"),
    .least = 1,
    .most = 1,
    .options = zero_only_options,
    .run = run_zero,
    .examples =
        EW_TEXT("cell zero \"0.3 N·m\" --note morning\ncell zero \"0.3 N·m\" --left \"0 N·m\""),
    .more = EW_TEXT("For twelve hours what the load cell reads without load is taken off the raw "
                    "torque of every pull.")};

static gboolean run_check_weight(const struct ew_call *call, GError **error) {
  double read, expected;
  if (!ew_quantity_parse("check weight, read", ew_call_argument(call, 0), EW_KIND_TORQUE, &read,
                         error) ||
      !ew_quantity_parse("check weight, expected", ew_call_argument(call, 1), EW_KIND_TORQUE,
                         &expected, error))
    return FALSE;
  if (!(expected > 0))
    return ew_refuse(error, "check weight: the expected torque must be above zero");
  g_autofree char *facts = ew_check_weight_facts(read, expected);
  return record_value(call, EW_TEXT("check weight"), read / expected, facts, error);
}
const struct ew_command ew_command_cell_check_weight = {
    .name = "cell check-weight",
    .summary = EW_TEXT("A check weight of today, read against expected, on a control chart"),
    .takes = EW_TEXT("READ EXPECTED"),
    .least = 2,
    .most = 2,
    .options = zero_options,
    .run = run_check_weight,
    .examples = "cell check-weight \"98.3 N·m\" \"98.07 N·m\"",
    .more = EW_TEXT("READ is what the load cell shows. Outside its limits it holds the pulls since "
                    "the last good one.")};

static const struct ew_option_spec calibrations_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"take-back", EW_TEXT("N"), EW_TEXT("the one of this number was wrong: it counts no more"),
     FALSE},
    {"reason", EW_TEXT("TEXT"), EW_TEXT("why; it is kept with it"), FALSE},
    {NULL, NULL, NULL, FALSE}};

static gboolean take_back(const struct ew_call *call, struct ew_book *book, GError **error) {
  struct ew_desk desk = {0};
  double number;
  g_autoptr(GArray) held = g_array_new(FALSE, FALSE, sizeof(gint64));
  gboolean good =
      ew_call_quantity(call, "take-back", EW_KIND_COUNT, 0, &number, error) &&
      ew_desk_open(&desk, book, error) &&
      ew_desk_calibration_back(&desk, (gint64)number, ew_call_option(call, "reason"), held, error);
  ew_desk_clear(&desk);
  if (!good)
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_integer(&json, "taken_back", (gint64)number);
    ew_json_open_array(&json, "held");
    for (guint i = 0; i < held->len; i++)
      ew_json_integer(&json, NULL, g_array_index(held, gint64, i));
    ew_json_close_array(&json);
    ew_answer_end(&json);
    return TRUE;
  }
  ew_say("number %.0f is taken back and counts no more", number);
  if (held->len)
    ew_say(ew_tr_many("%u pull was computed with it and is held: 'pull amend --pulls ... "
                      "--calibration now' computes it with what is in force without it",
                      "%u pulls were computed with it and are held: 'pull amend --pulls ... "
                      "--calibration now' computes them with what is in force without it",
                      held->len),
           held->len);
  return TRUE;
}

static gboolean run_calibrations(const struct ew_call *call, GError **error) {
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  if (!book || ew_call_has(call, "take-back"))
    return book && take_back(call, book, error);
  GError *problem = NULL;
  g_autoptr(GArray) rows = ew_calibration_list(book, NULL, &problem);
  if (problem) {
    g_propagate_error(error, problem);
    return FALSE;
  }
  g_autoptr(ew_message) late = NULL;
  if (!ew_calibration_overdue(book, &late, error))
    return FALSE;
  g_autofree char *overdue = late ? ew_message_text(late, call->units) : NULL;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_message_write_member(late, "overdue", call->units, &json);
    ew_json_rows(&json, "records", rows, ew_calibration_row_json);
    ew_answer_end(&json);
    return TRUE;
  }
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_calibration_row *r = &g_array_index(rows, struct ew_calibration_row, i);
    g_autofree char *until =
        r->valid_until ? ew_words("until %.10s", r->valid_until) : g_strdup("");
    ew_say("%3lld  %.16s  %-14s %10.5f  %s  %s", (long long)r->id, r->at, ew_tr(r->kind), r->value,
           until, r->note ? r->note : "");
  }
  if (overdue)
    ew_say("caution: %s", overdue);
  return TRUE;
}
const struct ew_command ew_command_cell_calibrations = {
    .name = "cell calibrations",
    .summary = EW_TEXT("Calibrations, zeros and check weights, with what is overdue"),
    .takes = "",
    .options = calibrations_options,
    .run = run_calibrations,
    .examples = EW_TEXT("cell calibrations\ncell calibrations --take-back 4 --reason \"the arm was "
                        "450 mm\"")};
