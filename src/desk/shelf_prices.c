/* Prices of the shelf's parts by the shop's price table: see shelf.h. Names are compared as people type them: without case, blanks around them
 * aside. */
#include "base/error.h"
#include "desk/job.h"
#include "desk/shelf.h"
#include "job/decimal.h"
#include <math.h>

static gboolean is_called(const char *name, const char *other) {
  g_autofree char *a = g_utf8_casefold(name, -1),
                  *b = other ? g_strstrip(g_utf8_casefold(other, -1)) : NULL;
  return g_strcmp0(a, b) == 0;
}

/* A code is the shop's own and there once; a name may be there twice, and then says nothing. */
static const struct ew_job_line *line_of(const GArray *lines, const char *part) {
  const struct ew_job_line *named = NULL;
  int names = 0;
  for (guint i = 0; i < lines->len; i++) {
    const struct ew_job_line *l = &g_array_index(lines, struct ew_job_line, i);
    if (l->labour)
      continue;
    if (is_called(part, l->code))
      return l;
    if (is_called(part, l->name)) {
      named = l;
      names++;
    }
  }
  return names == 1 ? named : NULL;
}

gboolean ew_shelf_take_prices(struct ew_book *book, GPtrArray *shelf, int *version,
                              GError **error) {
  g_autoptr(ew_job) shop = ew_job_load(book, 0, error);
  const struct ew_job_prices *prices = shop ? ew_job_prices_now(shop) : NULL;
  if (version)
    *version = prices ? prices->version : 0;
  for (guint i = 0; prices && i < shelf->len; i++) {
    struct ew_shelf_part *p = g_ptr_array_index(shelf, i);
    const struct ew_job_line *l = line_of(prices->mark.lines, p->name);
    if (!l)
      continue;
    g_free(p->code);
    p->code = g_strdup(l->code);
    p->table_price = (double)l->price / EW_DECIMAL_ONE;
    p->priced = isnan(p->price);
    if (p->priced)
      p->price = p->table_price;
  }
  return shop != NULL;
}
