/* The demo: a day's script as the first work of an empty book, in the reader's language, as an invented shop. */
#include "desk/day.h"
#include "base/words.h"
#include "base/error.h"
#include "base/language.h"
#include "book/keep.h"
#include <string.h>

static gboolean settle_demo_shop(struct ew_book *book, GError **error) {
  g_autofree char *own = NULL;
  if (!ew_setting_get(book, "shop", &own, error))
    return FALSE;
  const struct ew_setting settings[] = {
      {.key = "shop", .value = "Weir Lane Engines", .when = EW_SETTING_UNLESS_SET},
      {.key = "practice", .value = "yes"},
      {.key = "shop_line",
       .value = ew_tr("an invented shop, for the demo"),
       .when = EW_SETTING_UNLESS_SET}};
  gsize count = G_N_ELEMENTS(settings) - (own && *own); /* a named shop keeps its own line */
  return ew_keep_settings(book, settings, count, error) &&
         ew_keep_log(book, "demo", "an invented day", error);
}

/* The keys under which the script of the invented day has words that a shop would have typed itself. */
static gboolean is_typed(const char *key) {
  static const char *const keys[] = {
      "say",   "changed",   "label",   "discard",     "owner",         "seen",    "remark",
      "parts", "equipment", "compare", "spark_sweep", "mixture_sweep", "step_up", NULL};
  return g_strv_contains(keys, key);
}

static void put_in_language(struct ew_node *node, gboolean typed) {
  if (node->key)
    typed = is_typed(node->key);
  if (typed && node->text && *node->text) {
    char *own = g_strdup(ew_tr(node->text));
    g_free(node->text);
    node->text = own;
  }
  for (guint i = 0; node->children && i < node->children->len; i++)
    put_in_language(g_ptr_array_index(node->children, i), typed);
}

struct demo {
  const struct ew_node *script;
  const char *where, *folder, *report_path;
  const struct ew_day_watch *watch;
};

static gboolean demo_body(struct ew_book *book, gpointer user, GError **error) {
  const struct demo *d = user;
  gboolean empty;
  if (!ew_book_is_empty(book, &empty, error))
    return FALSE;
  if (!empty)
    return ew_refuse(error, "this book already holds work: an invented day needs an empty book");
  return settle_demo_shop(book, error) &&
         ew_run_day(book, d->script, d->where, d->folder, d->report_path, d->watch, error);
}

gboolean ew_run_demo(struct ew_book *book, struct ew_node *script, const char *where,
                     const char *folder, const char *report_path, const struct ew_day_watch *watch,
                     GError **error) {
  put_in_language(script, FALSE);
  struct demo d = {script, where, folder, report_path, watch};
  return ew_book_as_one(book, demo_body, &d, error);
}
