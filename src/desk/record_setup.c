/* The set-up said during a session: a field at most once, its latest value, checked when it is said and not when the
 * pull is over. O(fields said), some thirty at most. */
#include "desk/record_setup.h"
#include "desk/add.h"
#include "desk/sets.h"
#include <string.h>

static gsize name_size(const char *set) {
  return strcspn(set, "=");
}

/* "spark=30 deg" and "spark =28 deg" are of one field. */
static gboolean same_field(const char *a, const char *b) {
  g_autofree char *one = g_strstrip(g_strndup(a, name_size(a)));
  g_autofree char *two = g_strstrip(g_strndup(b, name_size(b)));
  return strcmp(one, two) == 0;
}

static void drop(GPtrArray *sets, const char *set) {
  for (guint i = sets->len; i-- > 0;)
    if (sets->pdata[i] && same_field(sets->pdata[i], set))
      g_ptr_array_remove_index(sets, i);
}

/* Takes the text. */
static void put(struct ew_said *said, char *set) {
  if (!said->sets)
    said->sets = g_ptr_array_new_with_free_func(g_free);
  drop(said->sets, set);
  g_ptr_array_add(said->sets, set);
}

gboolean ew_said_set(struct ew_said *said, const char *set, GError **error) {
  struct ew_setup scratch;
  ew_setup_defaults(&scratch);
  gboolean good = ew_apply_sets(&scratch, (const char *const[]){set, NULL}, error);
  ew_setup_clear(&scratch);
  if (good)
    put(said, g_strdup(set));
  return good;
}

void ew_said_changed(struct ew_said *said, const char *text) {
  g_free(said->changed);
  said->changed = g_strdup(text);
}

void ew_said_move(struct ew_said *from, struct ew_said *into) {
  for (guint i = 0; from->sets && i < from->sets->len; i++)
    put(into, g_strdup(from->sets->pdata[i]));
  if (from->changed)
    ew_said_changed(into, from->changed);
  ew_said_clear(from);
}

void ew_said_drop(const struct ew_said *said, GPtrArray *sets) {
  for (guint i = 0; said->sets && i < said->sets->len; i++)
    drop(sets, said->sets->pdata[i]);
}

#define SET     "set "
#define CHANGED "changed "

char *ew_said_write(const struct ew_said *said) {
  if (!ew_said_anything(said))
    return NULL;
  GString *text = g_string_new(NULL);
  for (guint i = 0; said->sets && i < said->sets->len; i++)
    g_string_append_printf(text, SET "%s\n", (const char *)said->sets->pdata[i]);
  if (said->changed)
    g_string_append_printf(text, CHANGED "%s\n", said->changed);
  return g_string_free(text, FALSE);
}

void ew_said_read(const char *text, struct ew_said *said) {
  g_auto(GStrv) lines = g_strsplit(text ? text : "", "\n", -1);
  for (int i = 0; lines[i]; i++) {
    if (g_str_has_prefix(lines[i], SET))
      ew_said_set(said, lines[i] + strlen(SET), NULL);
    else if (g_str_has_prefix(lines[i], CHANGED))
      ew_said_changed(said, lines[i] + strlen(CHANGED));
  }
}

static void tidy(struct ew_said *said) {
  if (said->sets && said->sets->len == 0)
    g_clear_pointer(&said->sets, g_ptr_array_unref);
}

void ew_said_used(struct ew_said *said, const char *used) {
  struct ew_said those = {0};
  ew_said_read(used, &those);
  for (guint i = 0; said->sets && those.sets && i < those.sets->len; i++) {
    guint at;
    if (g_ptr_array_find_with_equal_func(said->sets, those.sets->pdata[i], g_str_equal, &at))
      g_ptr_array_remove_index(said->sets, at);
  }
  if (g_strcmp0(said->changed, those.changed) == 0)
    g_clear_pointer(&said->changed, g_free);
  tidy(said);
  ew_said_clear(&those);
}

void ew_said_forget(struct ew_said *said, const char *set) {
  if (said->sets)
    drop(said->sets, set);
  tidy(said);
}

gboolean ew_said_anything(const struct ew_said *said) {
  return said->sets || said->changed;
}

void ew_said_clear(struct ew_said *said) {
  g_clear_pointer(&said->sets, g_ptr_array_unref);
  g_clear_pointer(&said->changed, g_free);
}
