/* The engine and build that a call means, and a record from its words through the field tables. What was understood
 * is said back, so that a slip of the hand is seen while the instrument is still in it. */
#include "book/keep.h"
#include "cli/build_call.h"
#include "build/check.h"
#include <string.h>

const struct ew_option_spec ew_build_options[] = {EW_BUILD_OPTIONS, {NULL, NULL, NULL, FALSE}};

gboolean ew_build_call_open(const struct ew_call *call, gboolean needed, struct ew_build_call *b,
                            GError **error) {
  *b = (struct ew_build_call){0};
  b->book = ew_call_book(call, FALSE, TRUE, error);
  return b->book &&
         ew_bench_build_open(b->book, ew_call_option(call, "engine"), needed, &b->bench, error);
}

void ew_build_call_clear(struct ew_build_call *b) {
  ew_bench_build_clear(&b->bench);
  ew_book_close(b->book);
}

struct ew_node *ew_build_call_map(const struct ew_call *call, enum ew_build_kind kind) {
  const struct ew_fields *table = ew_build_fields(kind, EW_KINDS_COUNT, FALSE);
  struct ew_node *map = ew_node_new_map();
  for (gsize i = 0; i < table->count; i++) {
    g_autofree char *option = g_strdelimit(g_strdup(table->fields[i].name), "_", '-');
    const char *value = ew_call_option(call, option);
    ew_node_put(map, table->fields[i].name, value && strcmp(option, "sure") == 0 ? "yes" : value);
  }
  g_autofree char *now = ew_time_now();
  if (!ew_call_has(call, "at"))
    ew_node_put(map, "at", now);
  return map;
}

/* How to take it back, while it is fresh. */
static void say_number(const struct ew_build_mark *mark) {
  ew_say("record %lld; 'enginewright build withdraw %lld --reason TEXT' withdraws it",
         (long long)mark->id, (long long)mark->id);
}

/* "kept: lash 5 exhaust, cold 0.31 mm, hot 0.45 mm": what was understood, so that a slip is seen at once. */
static void say_kept(const struct ew_build_call *b, enum ew_build_kind kind, const void *record,
                     enum ew_unit_system units) {
  const struct ew_fields *table = ew_build_fields(kind, EW_KINDS_COUNT, FALSE);
  g_autoptr(GString) text = g_string_new(NULL);
  for (gsize i = 0; i < table->count; i++) {
    const struct ew_field *field = &table->fields[i];
    g_autofree char *value = ew_field_show(field, record, units),
                    *typed = ew_field_typed(field, record);
    if (!value || strcmp(field->name, "at") == 0 || strcmp(field->name, "who") == 0 ||
        g_strcmp0(typed, field->fallback) == 0)
      continue;
    g_autofree char *name = g_strdelimit(g_strdup(field->name), "_", ' ');
    g_string_append_printf(text, "%s%s%s%s", text->len ? ", " : "", text->len ? name : "",
                           text->len ? " " : "", value);
  }
  ew_say("kept for %s: %s %s", b->bench.engine_name, ew_tr(table->record), text->str);
  say_number(record);
}

/* A reading that asks for a look is reported now, not when somebody asks for all that is amiss. */
static void say_lash_findings(const struct ew_build_call *b, const struct ew_build_lash *lash,
                              enum ew_unit_system units) {
  g_autofree char *about = g_strdup_printf("lash %s", lash->valve);
  g_autoptr(GPtrArray) all = ew_build_check(b->bench.build, &b->bench.engine, NULL);
  for (guint i = 0; i < all->len; i++) {
    g_autofree char *says = ew_message_text(all->pdata[i], units);
    if (g_strcmp0(ew_message_subject(all->pdata[i]), about) == 0)
      ew_say("caution: %s", says);
  }
}

static void answer(const struct ew_call *call, const struct ew_build_call *b,
                   enum ew_build_kind kind, const void *record) {
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_text(&json, "engine", b->bench.engine_name);
    ew_json_text(&json, "kind", ew_build_kind_key(kind));
    ew_json_open(&json, "record");
    ew_build_record_json(kind, record, &json);
    ew_json_close(&json);
    ew_answer_end(&json);
    return;
  }
  if (kind != EW_BUILD_MEASURE) {
    say_kept(b, kind, record, call->units);
    if (kind == EW_BUILD_LASH)
      say_lash_findings(b, record, call->units);
    return;
  }
  const struct ew_build_measure *m = record;
  g_autoptr(GArray) lines = ew_build_lines(b->bench.build, &b->bench.engine);
  for (guint i = 0; i < lines->len; i++) {
    const struct ew_build_line *line = &g_array_index(lines, struct ew_build_line, i);
    if (line->measure != m)
      continue;
    g_autofree char *mean = ew_build_show(line->kind, call->units, line->value.mean),
                    *expanded = ew_build_show_doubt(line->kind, call->units, line->value.expanded);
    const char *verdict = ew_tr(ew_fit_word(line->verdict));
    if (line->from)
      ew_say("%s %s: %s ± %s, %s (%s)", line->name, line->position, mean, expanded, verdict,
             line->from);
    else
      ew_say("%s %s: %s ± %s, %s", line->name, line->position, mean, expanded, verdict);
    if (line->verdict == EW_FIT_OUT && line->item && line->item->caution)
      ew_say("caution: %s", line->item->caution);
    say_number(&m->mark);
  }
}

gboolean ew_build_call_keep(const struct ew_call *call, enum ew_build_kind kind,
                            struct ew_node *map, GError **error) {
  g_autoptr(ew_node) owned = map;
  struct ew_build_call b;
  gboolean good = ew_build_call_open(call, TRUE, &b, error);
  void *record = good ? ew_build_record_read(kind, owned, call->command->name, b.bench.build,
                                             &b.bench.engine, error)
                      : NULL;
  struct ew_kept_record kept;
  good = record && ew_keep_build_record(b.book, b.bench.build->id, kind, record, &kept, error);
  if (good) {
    ((struct ew_build_mark *)record)->id = kept.id;
    g_ptr_array_add(b.bench.build->records[kind], record);
    answer(call, &b, kind, record);
  } else
    ew_build_record_free(kind, record);
  ew_build_call_clear(&b);
  return good;
}
