/* A stored pull computed again with what somebody gave in place of what is kept: another factor, weather, cell, method,
 * engine or channel map. The answer says what differs; the book stays as it is. */
#include "desk/add.h"
#include "desk/loaded.h"
#include "desk/sets.h"
#include <string.h>

struct altering {
  const struct ew_desk *desk;
  GPtrArray *differs;
};

EW_MESSAGE(altered, "desk.altered", EW_NOTE, "{record}: {changes}");
EW_MESSAGE(the_method, "desk.method", EW_NOTE, "method");
EW_MESSAGE(the_cell, "desk.cell", EW_NOTE, "cell");
EW_MESSAGE(the_setup, "desk.set-up", EW_NOTE, "set-up");
EW_MESSAGE(other_engine, "desk.other-engine", EW_NOTE, "engine: as given");
EW_MESSAGE(other_map, "desk.other-map", EW_NOTE, "channel map: as given");

/* "method: standard j1349 → none; half width 400 rpm → 200 rpm" */
static void tell(GPtrArray *differs, const struct ew_message_kind *record,
                 const struct ew_fields *table, const void *kept, const void *given) {
  g_autoptr(GPtrArray) changes = ew_messages_new();
  for (gsize i = 0; i < table->count; i++) {
    const struct ew_field *field = &table->fields[i];
    if (!ew_field_same(field, kept, given))
      ew_messages_add(changes, ew_field_change(field, kept, given));
  }
  if (changes->len)
    ew_messages_add(differs, ew_message(&altered, ew_say_word("record", record),
                                        ew_say_messages("changes", changes)));
}

void ew_setup_altered(GPtrArray *differs, const struct ew_setup *kept,
                      const struct ew_setup *given) {
  tell(differs, &the_setup, &ew_setup_fields, kept, given);
}

static void alter_method(struct ew_recomputed *a, const struct altering *w) {
  const struct ew_given *given = &w->desk->given;
  struct ew_method method = given->method ? w->desk->method : a->method;
  if (given->standard)
    method.standard = w->desk->method.standard;
  tell(w->differs, &the_method, &ew_method_fields, &a->method, &method);
  a->method = method;
}

static void alter_cell(struct ew_recomputed *a, const struct altering *w) {
  tell(w->differs, &the_cell, &ew_bench_fields, &a->bench, &w->desk->bench);
  ew_fields_clear(&ew_bench_fields, &a->bench);
  a->bench = (struct ew_bench){0};
  ew_fields_copy(&ew_bench_fields, &w->desk->bench, &a->bench);
}

static gboolean alter_setup(struct ew_recomputed *a, const struct altering *w, GError **error) {
  struct ew_setup setup = {0};
  ew_fields_copy(&ew_setup_fields, &a->setup, &setup);
  if (!ew_apply_sets(&setup, (const char *const *)w->desk->given.sets, error)) {
    ew_setup_clear(&setup);
    return FALSE;
  }
  tell(w->differs, &the_setup, &ew_setup_fields, &a->setup, &setup);
  ew_setup_clear(&a->setup);
  a->setup = setup;
  return TRUE;
}

/* Fields of the cell's record, one by one: the others stay as this pull has them. */
static gboolean alter_cell_fields(struct ew_recomputed *a, const struct altering *w,
                                  GError **error) {
  struct ew_bench bench = {0};
  ew_fields_copy(&ew_bench_fields, &a->bench, &bench);
  if (!ew_apply_record_sets(&ew_bench_fields, &bench, (const char *const *)w->desk->given.cell_sets,
                            error)) {
    ew_fields_clear(&ew_bench_fields, &bench);
    return FALSE;
  }
  tell(w->differs, &the_cell, &ew_bench_fields, &a->bench, &bench);
  ew_fields_clear(&ew_bench_fields, &a->bench);
  a->bench = bench;
  return TRUE;
}

static gboolean alter(struct ew_recomputed *a, gpointer user, GError **error) {
  const struct altering *w = user;
  const struct ew_given *given = &w->desk->given;
  if (given->method || given->standard)
    alter_method(a, w);
  if (given->cell)
    alter_cell(a, w);
  if (given->engine) {
    ew_engine_clear(&a->engine);
    ew_engine_copy(&w->desk->engine, &a->engine);
    ew_messages_add(w->differs, ew_message_plain(&other_engine));
  }
  if (given->map && g_strcmp0(a->recording.channel_map, w->desk->channel_map) != 0) {
    g_free(a->recording.channel_map);
    a->recording.channel_map = g_strdup(w->desk->channel_map);
    ew_messages_add(w->differs, ew_message_plain(&other_map));
  }
  return (!given->cell_sets || alter_cell_fields(a, w, error)) &&
         (!given->sets || alter_setup(a, w, error));
}

gboolean ew_desk_alter(const struct ew_desk *desk, struct ew_recomputed *again, GPtrArray *differs,
                       GError **error) {
  struct altering work = {desk, differs};
  return alter(again, &work, error);
}

gboolean ew_desk_recompute(const struct ew_desk *desk, gint64 id, struct ew_recomputed *again,
                           GPtrArray *differs, GError **error) {
  struct altering work = {desk, differs};
  return ew_recompute_altered(desk->book, id, alter, &work, again, error);
}
