/* Paper, units, labels and the shop's name for one sheet: what was asked for, else the book's setting, else the
 * house's. */
#include "desk/sheet_head.h"
#include "book/store.h"
#include <string.h>

/* In place of each NULL of `values` the setting of that key; NULL where there is none. */
static gboolean read_settings(struct ew_book *book, const char *const *keys, char **values,
                              gsize count, GError **error) {
  gboolean good = TRUE;
  for (gsize i = 0; good && i < count; i++)
    good = ew_setting_get(book, keys[i], &values[i], error);
  return good;
}

static void free_all(char **values, gsize count) {
  for (gsize i = 0; i < count; i++)
    g_free(values[i]);
}

static char *taken_or(char **value, const char *otherwise) {
  return *value ? g_steal_pointer(value) : g_strdup(otherwise);
}

/* NULL: what the thread speaks. FALSE: not there. */
static gboolean find_language(struct ew_book *book, const char *asked, gboolean customer,
                              const ew_language **language, GError **error) {
  g_autofree char *kept = NULL;
  if (customer && !asked && !ew_setting_get(book, EW_SHEET_LANGUAGE, &kept, error))
    return FALSE;
  const char *name = asked ? asked : kept;
  *language = name && *name ? ew_language_find(name, error) : NULL;
  return *language || !name || !*name;
}

gboolean ew_sheet_head_read(struct ew_book *book, const struct ew_sheet_options *o, const char *own,
                            gboolean customer, struct ew_sheet_head *head, GError **error) {
  enum { UNITS, PAPER, LOGO, LABELS, SHOP, LINE, TERMS, COUNT };
  static const char *const keys[COUNT] = {"units", "paper",     "logo", "labels",
                                          "shop",  "shop_line", "terms"};
  char *values[COUNT] = {NULL};
  const ew_language *language;
  if (!find_language(book, o->language, customer, &language, error) ||
      !read_settings(book, keys, values, COUNT, error)) {
    free_all(values, COUNT);
    return FALSE;
  }
  const ew_language *before = ew_language_of_thread(language);
  if (!language)
    ew_language_of_thread(before);
  char *shop = taken_or(&values[SHOP], ew_tr(EW_TEXT("Name of the shop (book set --shop)"))),
       *line = taken_or(&values[LINE], ""), *terms = taken_or(&values[TERMS], ""),
       *stamp = ew_time_now();
  gsize logo_bytes = 0;
  guchar *logo = values[LOGO] ? g_base64_decode(values[LOGO], &logo_bytes) : NULL;
  *head =
      (struct ew_sheet_head){.flow = {.title = o->title ? o->title : ew_tr(own),
                                      .shop = shop,
                                      .shop_line = line,
                                      .terms = terms,
                                      .stamp = stamp,
                                      .logo_png = logo,
                                      .logo_bytes = logo_bytes},
                             .units = o->units >= 0 ? (enum ew_unit_system)o->units
                                      : g_strcmp0(values[UNITS], "us") == 0 ? EW_UNITS_US
                                                                            : EW_UNITS_SI,
                             .paper = o->paper >= 0 ? (enum ew_paper)o->paper
                                      : g_strcmp0(values[PAPER], "letter") == 0 ? EW_PAPER_LETTER
                                                                                : EW_PAPER_A4,
                             .owned = {shop, line, terms, stamp, logo},
                             .before = before};
  (void)ew_labels_find(ew_language_is_english() ? values[LABELS] : NULL, &head->flow.labels);
  free_all(values, COUNT);
  return TRUE;
}

void ew_sheet_head_clear(struct ew_sheet_head *head) {
  ew_language_of_thread(head->before);
  for (gsize i = 0; i < G_N_ELEMENTS(head->owned); i++)
    g_free(head->owned[i]);
}
