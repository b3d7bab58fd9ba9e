/* Paper, units, labels and the shop's name for one sheet: what was asked for, else the book's setting, else the
 * house's. */
#include "desk/sheet_head.h"
#include "book/store.h"
#include <string.h>

static char *setting_or(struct ew_book *book, const char *key, const char *otherwise) {
  char *value = ew_setting_get(book, key);
  return value ? value : g_strdup(otherwise);
}

/* NULL: what the thread speaks. FALSE: not there. */
static gboolean find_language(struct ew_book *book, const char *asked, gboolean customer,
                              const ew_language **language, GError **error) {
  g_autofree char *kept = customer && !asked ? ew_setting_get(book, EW_SHEET_LANGUAGE) : NULL;
  const char *name = asked ? asked : kept;
  *language = name && *name ? ew_language_find(name, error) : NULL;
  return *language || !name || !*name;
}

gboolean ew_sheet_head_read(struct ew_book *book, const struct ew_sheet_options *o, const char *own,
                            gboolean customer, struct ew_sheet_head *head, GError **error) {
  const ew_language *language;
  if (!find_language(book, o->language, customer, &language, error))
    return FALSE;
  const ew_language *before = ew_language_of_thread(language);
  if (!language)
    ew_language_of_thread(before);
  g_autofree char *units = ew_setting_get(book, "units"), *paper = ew_setting_get(book, "paper"),
                  *logo64 = ew_setting_get(book, "logo"), *labels = ew_setting_get(book, "labels");
  char *shop = setting_or(book, "shop", ew_tr(EW_TEXT("Name of the shop (book set --shop)"))),
       *line = setting_or(book, "shop_line", ""), *terms = setting_or(book, "terms", ""),
       *stamp = ew_time_now();
  gsize logo_bytes = 0;
  guchar *logo = logo64 ? g_base64_decode(logo64, &logo_bytes) : NULL;
  *head = (struct ew_sheet_head){.flow = {.title = o->title ? o->title : ew_tr(own),
                                          .shop = shop,
                                          .shop_line = line,
                                          .terms = terms,
                                          .stamp = stamp,
                                          .logo_png = logo,
                                          .logo_bytes = logo_bytes},
                                 .units = o->units >= 0 ? (enum ew_unit_system)o->units
                                          : g_strcmp0(units, "us") == 0 ? EW_UNITS_US
                                                                        : EW_UNITS_SI,
                                 .paper = o->paper >= 0 ? (enum ew_paper)o->paper
                                          : g_strcmp0(paper, "letter") == 0 ? EW_PAPER_LETTER
                                                                            : EW_PAPER_A4,
                                 .owned = {shop, line, terms, stamp, logo},
                                 .before = before};
  (void)ew_labels_find(ew_language_is_english() ? labels : NULL, &head->flow.labels);
  return TRUE;
}

void ew_sheet_head_clear(struct ew_sheet_head *head) {
  ew_language_of_thread(head->before);
  for (gsize i = 0; i < G_N_ELEMENTS(head->owned); i++)
    g_free(head->owned[i]);
}
