/* A stored pull computed again with what somebody gave in place of what is kept: another factor, weather, cell, method,
 * engine or channel map. The answer says what differs; the book stays as it is. */
#include "desk/add.h"
#include "desk/loaded.h"
#include <string.h>

struct altering {
  const struct ew_desk *desk;
  GPtrArray *differs;
};

/* "method: standard J1349 → none, half width 400 rpm → 200 rpm" */
static void tell(GPtrArray *differs, const char *what, const struct ew_fields *table,
                 const void *kept, const void *given) {
  GString *text = g_string_new(NULL);
  for (gsize i = 0; i < table->count; i++) {
    const struct ew_field *field = &table->fields[i];
    if (ew_field_same(field, kept, given))
      continue;
    g_autofree char *one = ew_field_show(field, kept, EW_UNITS_SI);
    g_autofree char *two = ew_field_show(field, given, EW_UNITS_SI);
    g_autofree char *name = g_strdelimit(g_strdup(field->name), "_", ' ');
    g_string_append_printf(text, "%s%s %s → %s", text->len ? ", " : "", name,
                           one ? one : "not stated", two ? two : "not stated");
  }
  if (text->len)
    g_ptr_array_add(differs, g_strdup_printf("%s: %s", what, text->str));
  g_string_free(text, TRUE);
}

static void alter_method(struct ew_recomputed *a, const struct altering *w) {
  const struct ew_given *given = &w->desk->given;
  struct ew_method method = given->method ? w->desk->method : a->method;
  if (given->standard)
    method.standard = w->desk->method.standard;
  tell(w->differs, "method", &ew_method_fields, &a->method, &method);
  a->method = method;
}

static void alter_cell(struct ew_recomputed *a, const struct altering *w) {
  tell(w->differs, "cell", &ew_bench_fields, &a->bench, &w->desk->bench);
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
  tell(w->differs, "set-up", &ew_setup_fields, &a->setup, &setup);
  ew_setup_clear(&a->setup);
  a->setup = setup;
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
    g_ptr_array_add(w->differs, g_strdup("engine: as given"));
  }
  if (given->map && g_strcmp0(a->recording.channel_map, w->desk->channel_map) != 0) {
    g_free(a->recording.channel_map);
    a->recording.channel_map = g_strdup(w->desk->channel_map);
    g_ptr_array_add(w->differs, g_strdup("channel map: as given"));
  }
  return !given->sets || alter_setup(a, w, error);
}

gboolean ew_desk_recompute(const struct ew_desk *desk, gint64 id, struct ew_recomputed *again,
                           GPtrArray *differs, GError **error) {
  struct altering work = {desk, differs};
  return ew_recompute_altered(desk->book, id, alter, &work, again, error);
}
