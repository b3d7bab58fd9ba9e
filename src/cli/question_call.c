/* question_call.h: each pull that is named is loaded once, in the order of the command line. */
#include "cli/question_call.h"
#include <string.h>

gboolean ew_call_despite(const struct ew_call *call, guint *despite, GError **error) {
  const char *text = ew_call_option(call, "despite");
  *despite = 0;
  return !text || ew_despite_read(text, despite, error);
}

gboolean ew_call_load_list(const struct ew_call *call, const char *option, struct ew_desk *desk,
                           GPtrArray *into, GError **error) {
  g_autofree const char **list = ew_call_options(call, option);
  for (int i = 0; list[i]; i++)
    if (!ew_desk_load(desk, list[i], into, error))
      return FALSE;
  return TRUE;
}

gboolean ew_call_load_history(const struct ew_call *call, struct ew_desk *desk, GPtrArray *into,
                              GArray *groups, GError **error) {
  g_autofree const char **list = ew_call_options(call, "history");
  g_autoptr(GPtrArray) names = g_ptr_array_new_with_free_func(g_free);
  for (int i = 0; list[i]; i++) {
    const char *equals = strchr(list[i], '=');
    if (!equals)
      return ew_refuse(
          error,
          "--history '%s': write GROUP=FILE, for example --history 1=a.csv --history 1=b.csv",
          list[i]);
    char *name = g_strndup(list[i], (gsize)(equals - list[i]));
    guint at;
    int group;
    if (g_ptr_array_find_with_equal_func(names, name, g_str_equal, &at)) {
      group = (int)at;
      g_free(name);
    } else {
      group = (int)names->len;
      g_ptr_array_add(names, name);
    }
    guint before = into->len;
    if (!ew_desk_load(desk, equals + 1, into, error))
      return FALSE;
    for (guint k = before; k < into->len; k++)
      g_array_append_val(groups, group);
  }
  g_assert(groups->len == into->len);
  return TRUE;
}

struct ew_sides ew_sides_new(void) {
  GDestroyNotify clear = (GDestroyNotify)ew_loaded_free;
  return (struct ew_sides){
      g_ptr_array_new_with_free_func(clear), g_ptr_array_new_with_free_func(clear),
      g_ptr_array_new_with_free_func(clear), g_ptr_array_new_with_free_func(clear),
      g_array_new(FALSE, FALSE, sizeof(int))};
}

void ew_sides_free(struct ew_sides *s) {
  g_ptr_array_unref(s->a);
  g_ptr_array_unref(s->b);
  g_ptr_array_unref(s->history);
  g_ptr_array_unref(s->pulls);
  g_array_unref(s->groups);
}
