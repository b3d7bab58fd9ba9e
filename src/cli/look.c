/* What a file holds, channel by channel, and why it was understood so. */
#include "cli/command.h"
#include "base/words.h"
#include <math.h>
#include "book/store.h"
#include "desk/units.h"
#include <string.h>

static const struct ew_option_spec options[] = {EW_DESK_OPTIONS, {NULL, NULL, NULL, FALSE}};

static const char *delimiter_name(char delimiter) {
  switch (delimiter) {
  case ',': return EW_TEXT("separated by commas");
  case ';': return EW_TEXT("separated by semicolons");
  case '\t': return EW_TEXT("separated by tabs");
  case '|': return EW_TEXT("separated by bars");
  case ' ': return EW_TEXT("separated by blanks");
  default: return EW_TEXT("in one column"); /* of characters, not an enumeration */
  }
}

/* Cut or filled to so many characters: printf counts bytes, and a heading or a unit may hold others than ASCII. */
static char *padded(const char *text, glong wide) {
  glong length = g_utf8_strlen(text, -1);
  g_autofree char *cut = g_utf8_substring(text, 0, MIN(length, wide));
  return g_strdup_printf("%s%*s", cut, (int)(wide - MIN(length, wide)), "");
}

static void say_channels(const struct ew_processed *p) {
  ew_say("%-28s %-24s %-10s %8s %8s  %s", ew_tr("column"), ew_tr("taken as"), ew_tr("unit"),
         ew_tr("missing"), ew_tr("altered"), ew_tr("because"));
  for (guint i = 0; i < p->series->channels_count; i++) {
    const struct ew_series_channel *c = &p->series->channels[i];
    const struct ew_column *column = g_ptr_array_index(p->layout->columns, i);
    g_autofree char *number = c->index ? g_strdup_printf(" %d", c->index) : g_strdup("");
    g_autofree char *as =
        c->channel < EW_CHANNELS_COUNT
            ? g_strdup_printf("%s%s", ew_tr(ew_channel_facts[c->channel].label), number)
            : g_strdup("-");
    struct ew_clean_counts n = ew_clean_count(c, 0, p->series->rows);
    g_autofree char *name = padded(c->name, 28), *unit = padded(c->unit ? c->unit : "-", 10);
    g_autofree char *why = ew_message_text(c->why, EW_UNITS_SI);
    ew_say("%s %-24s %s %8zu %8zu  %s", name, as, unit, column->missing + column->unreadable,
           n.spikes + n.dropouts, why);
  }
}

/* Which lag is taken, and what is not. */
static void say_lags(const struct ew_processed *p) {
  g_autoptr(GString) none = g_string_new(NULL);
  for (guint i = 0; i < p->series->channels_count; i++) {
    const struct ew_series_channel *c = &p->series->channels[i];
    if (c->channel >= EW_CHANNELS_COUNT || !c->values)
      continue;
    double usual_s = ew_channel_facts[c->channel].usual_lag_s;
    if (c->lag_stated)
      ew_say(c->lag_rows ? EW_TEXT("lag of '%s': %g s, stated in the channel map, taken out")
                         : EW_TEXT("lag of '%s': %g s, stated in the channel map"),
             c->name, c->lag_s);
    else if (usual_s > 0)
      ew_words_append(
          none, none->len ? EW_TEXT(", '%s' (%g s is usual)") : EW_TEXT("'%s' (%g s is usual)"),
          c->name, usual_s);
  }
  if (none->len)
    ew_say("no lag is stated, and none is taken out: %s; common practice, no source: measure yours "
           "and state it in a channel map",
           none->str);
}

static void say_pulls(const struct ew_processed *p, enum ew_unit_system units) {
  g_autofree char *why = p->curves->len ? NULL : ew_message_text(p->why_none, units);
  if (why)
    ew_say("\nno pull found: %s", why);
  for (guint i = 0; i < p->curves->len; i++) {
    const struct ew_curve *c = g_ptr_array_index(p->curves, i);
    ew_say(c->kind == EW_SEGMENT_SWEEP
               ? EW_TEXT("\npull %u: %s from %#.0f to %#.0f rpm, %.1f to %.1f s")
               : EW_TEXT("\npull %u: %s from %#.0f to %#.0f rpm, %.1f to %.1f s, steady"),
           i + 1, ew_tr(ew_segment_kind_names[c->kind]), c->low_rpm, c->high_rpm, c->start_s,
           c->end_s);
    g_autoptr(GPtrArray) cautions = ew_messages_texts(c->warnings, units);
    for (guint w = 0; w < cautions->len; w++)
      ew_say("  caution: %s", (char *)g_ptr_array_index(cautions, w));
  }
}

static void say_layout(const char *path, const struct ew_processed *p) {
  const struct ew_table_layout *l = p->layout;
  ew_say("%s: rows: %zu, columns: %u, %s; decimal %s, %s; names in line %u, units in %s, data from "
         "line %u",
         path, p->series->rows, p->series->channels_count, ew_tr(delimiter_name(l->delimiter)),
         l->decimal == ',' ? ew_tr("comma") : ew_tr("point"), l->encoding, l->header_line,
         l->units_line ? ew_tr("a line of their own") : ew_tr("the names"), l->data_line);
}

static void write_json(const struct ew_processed *p, const char *sha256) {
  struct ew_json json = ew_answer_begin();
  const struct ew_table_layout *l = p->layout;
  char delimiter[2] = {l->delimiter, 0}, decimal[2] = {l->decimal, 0};
  ew_json_text(&json, "sha256", sha256);
  ew_json_text(&json, "encoding", l->encoding);
  ew_json_text(&json, "delimiter", delimiter);
  ew_json_text(&json, "decimal", decimal);
  ew_json_integer(&json, "header_line", l->header_line);
  ew_json_integer(&json, "units_line", l->units_line);
  ew_json_integer(&json, "first_data_line", l->data_line);
  ew_json_integer(&json, "rows", (gint64)p->series->rows);
  ew_json_boolean(&json, "timed", p->series->timed);
  ew_json_number(&json, "interval_s", p->series->interval_s);
  ew_json_open_array(&json, "channels");
  for (guint i = 0; i < p->series->channels_count; i++) {
    const struct ew_series_channel *c = &p->series->channels[i];
    const struct ew_column *column = g_ptr_array_index(l->columns, i);
    struct ew_clean_counts n = ew_clean_count(c, 0, p->series->rows);
    ew_json_open(&json, NULL);
    ew_json_text(&json, "column", c->name);
    ew_json_text(&json, "channel",
                 c->channel < EW_CHANNELS_COUNT ? ew_channel_facts[c->channel].key : NULL);
    ew_json_integer(&json, "index", c->index);
    ew_json_text(&json, "unit", c->unit);
    ew_message_write_member(c->why, "because", EW_UNITS_SI, &json);
    ew_json_number(&json, "lag_s", c->lag_s);
    ew_json_text(&json, "lag_from", ew_series_lag_from(c));
    ew_json_integer(&json, "values", (gint64)column->values);
    ew_json_integer(&json, "missing", (gint64)column->missing);
    ew_json_integer(&json, "unreadable", (gint64)column->unreadable);
    ew_json_integer(&json, "spikes", (gint64)n.spikes);
    ew_json_integer(&json, "dropouts", (gint64)n.dropouts);
    ew_json_integer(&json, "flat", (gint64)n.flat);
    ew_json_integer(&json, "saturated", (gint64)n.saturated);
    ew_json_close(&json);
  }
  ew_json_close_array(&json);
  ew_json_integer(&json, "pulls", p->curves->len);
  ew_message_write_member(p->curves->len ? NULL : p->why_none, "no_pull_because", EW_UNITS_SI,
                          &json);
  ew_messages_write_json(p->series->notes, "notes", EW_UNITS_SI, &json);
  ew_answer_end(&json);
}

/* Again as a shop of US units writes, where the file names none and nobody gave a map: what 'pull add' would do. */
static gboolean settle_units(const struct ew_call *call, struct ew_desk *desk, GBytes *bytes,
                             const char *path, struct ew_processed **p, GError **error) {
  g_autoptr(GPtrArray) taken = ew_messages_new();
  if (!*p || desk->channel_map || call->units != EW_UNITS_US)
    return *p != NULL;
  desk->channel_map = ew_us_units_map((*p)->series, taken);
  if (!desk->channel_map)
    return TRUE;
  ew_processed_free(*p);
  *p = ew_desk_process(desk, bytes, path, error);
  return *p != NULL;
}

static gboolean run(const struct ew_call *call, GError **error) {
  const char *path = ew_call_argument(call, 0);
  struct ew_desk desk;
  g_autoptr(GError) problem = NULL;
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, FALSE, &problem);
  if (problem) {
    g_propagate_error(error, g_steal_pointer(&problem));
    return FALSE;
  }
  if (!ew_call_desk(call, book, &desk, error))
    return FALSE;
  g_autoptr(GBytes) bytes = ew_read_file(path, error);
  struct ew_processed *p = bytes ? ew_desk_process(&desk, bytes, path, error) : NULL;
  if (settle_units(call, &desk, bytes, path, &p, error)) {
    g_autofree char *sha256 = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, bytes);
    if (call->json)
      write_json(p, sha256);
    else {
      say_layout(path, p);
      if (p->series->timed)
        ew_say("%.1f s at %.1f samples a second\n", p->series->time_s[p->series->rows - 1],
               1 / p->series->interval_s);
      else
        ew_say("no column gives the time\n");
      say_channels(p);
      say_lags(p);
      say_pulls(p, call->units);
      g_autoptr(GPtrArray) notes = ew_messages_texts(p->series->notes, call->units);
      for (guint i = 0; i < notes->len; i++)
        ew_say("note: %s", (char *)g_ptr_array_index(notes, i));
    }
    ew_processed_free(p);
  }
  ew_desk_clear(&desk);
  return p != NULL;
}
const struct ew_command ew_command_look = {
    .name = "look",
    .summary = EW_TEXT("What a file holds, and how it was understood"),
    .takes = EW_TEXT("FILE"),
    .least = 1,
    .most = 1,
    .options = options,
    .run = run,
    .examples = "look monday.csv\nlook monday.csv --map logger.yaml --json",
    .more = EW_TEXT("Any plain text table will do, from a data logger or a spreadsheet. A channel "
                    "map in YAML overrides how\neach column is understood:\n\n    channels:\n      "
                    "torque: { column: \"Load 1\", unit: lb-ft }\n      lambda: { column: \"O2\", "
                    "lag: 0.3 s }\n    ignore: [\"Spare\"]")};
