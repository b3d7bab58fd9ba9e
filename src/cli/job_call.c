/* Records of a job from the words of a call. What was kept is said back with its number, so that a slip can be withdrawn. */
#include "base/words.h"
#include "cli/build_call.h"
#include "cli/job_call.h"
#include "job/decimal.h"
#include <math.h>
#include <string.h>

struct ew_node *ew_job_call_map(const struct ew_call *call, enum ew_job_kind kind) {
  const struct ew_fields *table = ew_job_fields(kind);
  struct ew_node *map = ew_node_new_map();
  for (gsize i = 0; i < table->count; i++) {
    g_autofree char *option = g_strdelimit(g_strdup(table->fields[i].name), "_", '-');
    ew_node_put(map, table->fields[i].name, ew_call_option(call, option));
  }
  return map;
}

static gboolean take_word(const char *word, GArray *lines, GError **error) {
  const char *equals = strrchr(word, '=');
  struct ew_job_line line = {.days = -1};
  if (!equals || equals == word || !equals[1])
    return ew_refuse(error, "'%.60s': write CODE=QUANTITY, such as gasket-set=1", word);
  line.code = g_strndup(word, (gsize)(equals - word));
  enum ew_decimal_fault fault = ew_decimal_read(equals + 1, &line.quantity);
  gboolean good = fault == EW_DECIMAL_FINE ||
                  ew_decimal_refuse(fault, line.code, "quantity", equals + 1, error);
  if (good &&
      (line.quantity == 0 || ABS(line.quantity) > G_GINT64_CONSTANT(100000) * EW_DECIMAL_ONE))
    good = ew_refuse(error, "%s: quantity '%.40s' is out of range; give up to 100000, not 0",
                     line.code, equals + 1);
  if (good && ew_job_line_of(lines, line.code))
    good = ew_refuse(error, "'%s' is named twice: add the two up", line.code);
  if (good)
    g_array_append_val(lines, line);
  else
    g_free(line.code);
  return good;
}

GArray *ew_job_call_quantity(const char *code, const char *quantity, GError **error) {
  g_autofree char *word = g_strdup_printf("%s=%s", code, quantity);
  GArray *lines = ew_job_lines_new();
  if (take_word(word, lines, error))
    return lines;
  g_array_unref(lines);
  return NULL;
}

static GArray *lines_of_file(const char *path, GError **error) {
  g_autoptr(GBytes) bytes = ew_read_file(path, error);
  gsize size;
  const char *text = bytes ? g_bytes_get_data(bytes, &size) : NULL;
  return bytes ? ew_job_lines_read(text ? text : "", text ? size : 0, path, EW_JOB_LINES_WANTED,
                                   NULL, error)
               : NULL;
}

GArray *ew_job_call_lines(const struct ew_call *call, guint first, GError **error) {
  const char *path = ew_call_option(call, "lines");
  if (path && call->arguments->len > first) {
    ew_refuse(error, "--lines: give the lines in the file or as CODE=QUANTITY, not both");
    return NULL;
  }
  if (path)
    return lines_of_file(path, error);
  GArray *lines = ew_job_lines_new();
  for (guint i = first; i < call->arguments->len; i++)
    if (!take_word(call->arguments->pdata[i], lines, error)) {
      g_array_unref(lines);
      return NULL;
    }
  return lines;
}

static const void *record_of(const struct ew_job *job, enum ew_job_kind kind, gint64 id) {
  const GPtrArray *all = job->records[kind];
  for (guint i = 0; i < all->len; i++)
    if (((const struct ew_job_mark *)all->pdata[i])->id == id)
      return all->pdata[i];
  g_assert_not_reached();
}

/* "kept for HC6-004: quote 2, until 2026-06-01" */
static void say_record(const struct ew_job *job, enum ew_job_kind kind, const void *record,
                       enum ew_unit_system units) {
  const struct ew_fields *table = ew_job_fields(kind);
  const struct ew_job_mark *mark = record;
  g_autoptr(GString) text = g_string_new(NULL);
  for (gsize i = 0; i < table->count; i++) {
    const struct ew_field *field = &table->fields[i];
    g_autofree char *value = ew_field_show(field, record, units),
                    *typed = ew_field_typed(field, record);
    if (!value || strcmp(field->name, "at") == 0 || strcmp(field->name, "who") == 0 ||
        g_str_has_suffix(field->name, "_id") || g_strcmp0(typed, field->fallback) == 0)
      continue;
    g_autofree char *name = g_strdelimit(g_strdup(field->name), "_", ' ');
    g_string_append_printf(text, ", %s %s", name, value);
  }
  ew_say("kept for %s: %s of %s%s", job->name ? job->name : ew_tr(EW_TEXT("the shop")),
         ew_tr(table->record), mark->day, text->str);
  if (kind == EW_JOB_PRICES)
    return;
  ew_say("record %lld; 'enginewright job withdraw %lld --reason TEXT' withdraws it",
         (long long)mark->id, (long long)mark->id);
}

/* "16", "2.5 h" */
static char *counted(const struct ew_job_line *l) {
  g_autofree char *count = ew_count_show(l->quantity);
  return l->unit ? g_strdup_printf("%s %s", count, l->unit) : g_strdup(count);
}

static void say_lines(const struct ew_job_mark *mark, enum ew_job_kind kind) {
  for (guint i = 0; kind != EW_JOB_PRICES && mark->lines && i < mark->lines->len; i++) {
    const struct ew_job_line *l = &g_array_index(mark->lines, struct ew_job_line, i);
    g_autofree char *count = counted(l), *price = ew_money_show(l->price),
                    *sum = ew_money_show(ew_job_line_sum(l));
    if (kind == EW_JOB_ORDER || kind == EW_JOB_CAME)
      ew_say("  %s %s, %s %s", count, l->name ? l->name : l->code, l->supplier ? l->supplier : "-",
             l->supplier_number ? l->supplier_number : l->code);
    else
      ew_say("  %s %s at %s: %s", count, l->name ? l->name : l->code, price, sum);
  }
}

static void say_total(const struct ew_job *job) {
  const struct ew_job_standing s = ew_job_standing_of(job);
  g_autofree char *parts = ew_money_show(s.quoted.parts), *labour = ew_money_show(s.quoted.labour),
                  *changes = ew_money_show(s.changes.parts + s.changes.labour),
                  *all = ew_money_show(s.total);
  if (s.quote)
    ew_say("parts %s, labour %s, changes %s: in all %s %s, tax as each line says", parts, labour,
           changes, all, s.quote->currency);
}

static void answer(const struct ew_call *call, enum ew_job_kind kind,
                   const struct ew_job_answer *a) {
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_integer(&json, "job", a->job->id);
    ew_json_text(&json, "name", a->job->name);
    ew_json_text(&json, "kind", ew_job_kind_key(kind));
    ew_json_boolean(&json, "added", a->ids->len > 0);
    ew_json_open_array(&json, "records");
    for (guint i = 0; i < a->ids->len; i++) {
      ew_json_open(&json, NULL);
      ew_job_record_json(kind, record_of(a->job, kind, g_array_index(a->ids, gint64, i)), &json);
      ew_json_close(&json);
    }
    ew_json_close_array(&json);
    ew_answer_end(&json);
    return;
  }
  if (a->ids->len == 0)
    ew_say(kind == EW_JOB_ORDER ? EW_TEXT("nothing is left to order: nothing was added")
                                : EW_TEXT("the very same is there already: nothing was added"));
  for (guint i = 0; i < a->ids->len; i++) {
    const void *record = record_of(a->job, kind, g_array_index(a->ids, gint64, i));
    say_record(a->job, kind, record, call->units);
    say_lines(record, kind);
  }
  if (a->ids->len && (kind == EW_JOB_QUOTE || kind == EW_JOB_CHANGE))
    say_total(a->job);
}

gboolean ew_job_call_do(const struct ew_call *call, enum ew_job_kind kind, struct ew_node *map,
                        GArray *lines, GError **error) {
  g_autoptr(ew_node) owned = map;
  g_autoptr(GArray) owned_lines = lines;
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  const struct ew_job_ask ask = {.job = kind == EW_JOB_PRICES ? NULL : ew_call_argument(call, 0),
                                 .kind = kind,
                                 .map = owned,
                                 .where = call->command->name,
                                 .lines = owned_lines,
                                 .sure = ew_call_has(call, "sure")};
  struct ew_job_answer a;
  if (!book || !ew_job_do(book, &ask, &a, error))
    return FALSE;
  answer(call, kind, &a);
  ew_job_answer_clear(&a);
  return TRUE;
}
