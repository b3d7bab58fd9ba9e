/* The head decides what stands between cells; quotes as RFC 4180 has them. What is not UTF-8 is taken for Windows-1252, as
 * spreadsheets save it. */
#include "job/line.h"
#include "base/error.h"
#include "base/suggest.h"
#include "job/decimal.h"
#include <stdlib.h>
#include <string.h>

enum column {
  CODE,
  NAME,
  KIND,
  UNIT,
  PRICE,
  TAX,
  SUPPLIER,
  NUMBER,
  DAYS,
  QUANTITY,
  CURRENCY,
  COLUMNS
};
static const char *const names[COLUMNS] = {"code",  "name",     "kind",     "unit",
                                           "price", "tax",      "supplier", "supplier_number",
                                           "days",  "quantity", "currency"};
#define CELL_MOST     500 /* bytes */
#define DAYS_MOST     1000
#define PRICE_MOST    (G_GINT64_CONSTANT(10000000) * EW_DECIMAL_ONE)
#define QUANTITY_MOST (G_GINT64_CONSTANT(100000) * EW_DECIMAL_ONE)

static void line_clear(void *data) {
  struct ew_job_line *l = data;
  char *texts[] = {l->code, l->name, l->unit, l->tax, l->supplier, l->supplier_number};
  for (gsize i = 0; i < G_N_ELEMENTS(texts); i++)
    g_free(texts[i]);
}

GArray *ew_job_lines_new(void) {
  GArray *lines = g_array_new(FALSE, TRUE, sizeof(struct ew_job_line));
  g_array_set_clear_func(lines, line_clear);
  return lines;
}

void ew_job_line_copy(const struct ew_job_line *from, struct ew_job_line *to) {
  *to = *from;
  char **texts[] = {&to->code, &to->name, &to->unit, &to->tax, &to->supplier, &to->supplier_number};
  for (gsize i = 0; i < G_N_ELEMENTS(texts); i++)
    *texts[i] = g_strdup(*texts[i]);
}

const struct ew_job_line *ew_job_line_of(const GArray *lines, const char *code) {
  for (guint i = 0; lines && code && i < lines->len; i++) {
    const struct ew_job_line *l = &g_array_index(lines, struct ew_job_line, i);
    if (g_ascii_strcasecmp(l->code, code) == 0)
      return l;
  }
  return NULL;
}

gint64 ew_job_line_sum(const struct ew_job_line *line) {
  return ew_decimal_times(line->price, line->quantity);
}

/* ---- from text ---- */

struct reading {
  const char *where;
  enum ew_job_lines_kind kind;
  char between;
  int at[COLUMNS]; /* which cell; -1: none */
  guint line;
  GHashTable *codes; /* lower case -> its line */
  GArray *lines;
  char *currency;
  gboolean takes_currency;
};

/* "prices.csv, line 5" */
static char *place(const struct reading *r) {
  return g_strdup_printf("%s, line %u", r->where, r->line);
}

/* The cells of one line, which may go over several where a quoted cell does. *text is behind it afterwards. */
static GPtrArray *split(const char **text, char between, guint *lines) {
  GPtrArray *cells = g_ptr_array_new_with_free_func(g_free);
  GString *cell = g_string_new(NULL);
  const char *c = *text;
  gboolean quoted = FALSE, end = FALSE;
  while (!end) {
    if (quoted && *c == '"' && c[1] == '"')
      g_string_append_c(cell, *++c);
    else if (*c == '"' && (quoted || cell->len == 0))
      quoted = !quoted;
    else if (*c == 0 || (!quoted && (*c == '\n' || *c == between))) {
      end = *c != between || *c == 0;
      g_ptr_array_add(cells, g_strstrip(g_strdup(cell->str)));
      g_string_truncate(cell, 0);
    } else if (*c != '\r')
      g_string_append_c(cell, *c);
    *lines += *c == '\n';
    c += *c != 0;
  }
  g_string_free(cell, TRUE);
  *text = c;
  return cells;
}

static char guess_between(const char *text) {
  gsize length = strcspn(text, "\n");
  char best = ',';
  guint most = 0;
  for (const char *mark = ",;\t"; *mark; mark++) {
    guint count = 0;
    for (gsize i = 0; i < length; i++)
      count += text[i] == *mark;
    if (count > most)
      most = count, best = *mark;
  }
  return best;
}

static gboolean may_stand(const struct reading *r, int column) {
  return column == CURRENCY               ? r->takes_currency
         : column == QUANTITY             ? r->kind != EW_JOB_LINES_PRICES
         : r->kind == EW_JOB_LINES_WANTED ? column == CODE || column == NAME
                                          : TRUE;
}

static gboolean read_head(struct reading *r, const GPtrArray *cells, GError **error) {
  static const enum column needed[][3] = {
      {CODE, NAME, PRICE}, {CODE, QUANTITY, QUANTITY}, {CODE, PRICE, QUANTITY}};
  for (int k = 0; k < COLUMNS; k++)
    r->at[k] = -1;
  for (guint i = 0; i < cells->len; i++) {
    const char *cell = cells->pdata[i];
    int found = -1;
    for (int k = 0; k < COLUMNS; k++)
      if (g_ascii_strcasecmp(names[k], cell) == 0)
        found = k;
    if (!*cell)
      continue;
    if (found < 0 || !may_stand(r, found)) {
      const char *near = ew_suggest(cell, names, COLUMNS);
      return near && found < 0
                 ? ew_refuse(error, "%s: the head has a column '%.40s'; did you mean '%s'?",
                             r->where, cell, near)
                 : ew_refuse(error,
                             "%s: a column '%.40s' has no place here; the head of the table names "
                             "code, name, kind, unit, price, tax, supplier, supplier_number, days, "
                             "quantity or currency, each once",
                             r->where, cell);
    }
    if (r->at[found] >= 0)
      return ew_refuse(error, "%s: the head names the column '%s' twice", r->where, names[found]);
    r->at[found] = (int)i;
  }
  for (int i = 0; i < 3; i++)
    if (r->at[needed[r->kind][i]] < 0)
      return ew_refuse(error, "%s: the head has no column '%s'; the first line names the columns",
                       r->where, names[needed[r->kind][i]]);
  return TRUE;
}

static const char *cell_of(const struct reading *r, const GPtrArray *cells, enum column column) {
  int i = r->at[column];
  const char *cell = i >= 0 && (guint)i < cells->len ? cells->pdata[i] : NULL;
  return cell && *cell ? cell : NULL;
}

static gboolean read_decimal(const struct reading *r, const GPtrArray *cells, enum column column,
                             gint64 most, gint64 *value, GError **error) {
  const char *text = cell_of(r, cells, column);
  g_autofree char *where = place(r);
  if (!text)
    return r->at[column] < 0 || ew_refuse(error, "%s: '%s' is missing", where, names[column]);
  enum ew_decimal_fault fault = ew_decimal_read(text, value);
  if (fault != EW_DECIMAL_FINE)
    return ew_decimal_refuse(fault, where, names[column], text, error);
  if (column == PRICE && *value < 0)
    return ew_refuse(
        error,
        "%s: price '%.40s' is below zero; what is taken off is a change with a negative quantity",
        where, text);
  return ABS(*value) <= most || ew_refuse(error, "%s: %s '%.40s' is out of range; give at most %d",
                                          where, names[column], text, (int)(most / EW_DECIMAL_ONE));
}

static gboolean read_kind(const struct reading *r, const GPtrArray *cells, gboolean *labour,
                          GError **error) {
  const char *text = cell_of(r, cells, KIND);
  g_autofree char *where = place(r);
  *labour = text && g_ascii_strcasecmp(text, "labour") == 0;
  return !text || *labour || g_ascii_strcasecmp(text, "part") == 0 ||
         ew_refuse(error, "%s: kind '%.40s' is neither part nor labour", where, text);
}

static gboolean read_days(const struct reading *r, const GPtrArray *cells, int *days,
                          GError **error) {
  const char *text = cell_of(r, cells, DAYS);
  g_autofree char *where = place(r);
  *days = -1;
  if (!text)
    return TRUE;
  if (text[strspn(text, "0123456789")] || strlen(text) > 4 || atoi(text) > DAYS_MOST)
    return ew_refuse(error, "%s: days '%.40s' is not a whole number from 0 to %d", where, text,
                     DAYS_MOST);
  *days = atoi(text);
  return TRUE;
}

/* One table, one currency: sums go over lines. */
static gboolean read_currency(struct reading *r, const GPtrArray *cells, GError **error) {
  const char *text = cell_of(r, cells, CURRENCY);
  g_autofree char *where = place(r);
  if (!text)
    return TRUE;
  if (r->currency && strcmp(r->currency, text) != 0)
    return ew_refuse(error,
                     "%s: currency '%.20s', and '%.20s' before it; a table has one: split it",
                     where, text, r->currency);
  if (!r->currency)
    r->currency = g_strdup(text);
  return TRUE;
}

static gboolean read_code(const struct reading *r, const char *code, GError **error) {
  g_autofree char *where = place(r), *key = code ? g_utf8_strdown(code, -1) : NULL;
  if (!code)
    return ew_refuse(error, "%s: 'code' is missing: what the shop calls this part or work", where);
  guint before = GPOINTER_TO_UINT(g_hash_table_lookup(r->codes, key));
  if (before && r->kind == EW_JOB_LINES_PRICES)
    return ew_refuse(error, "%s: '%.60s' was in line %u already: one price for each code", where,
                     code, before);
  if (before && r->kind == EW_JOB_LINES_WANTED)
    return ew_refuse(error, "%s: '%.60s' was in line %u already: add the two up", where, code,
                     before);
  g_hash_table_insert(r->codes, g_steal_pointer(&key), GUINT_TO_POINTER(r->line));
  return TRUE;
}

static gboolean fits(const struct reading *r, const GPtrArray *cells, GError **error) {
  g_autofree char *where = place(r);
  for (guint i = 0; i < cells->len; i++) {
    const char *cell = cells->pdata[i];
    gboolean named = FALSE;
    for (int k = 0; k < COLUMNS; k++)
      named |= r->at[k] == (int)i;
    if (*cell && !named)
      return ew_refuse(error,
                       "%s: '%.40s' is in no column that the head names; is a comma in a text? Put "
                       "the text in quotes",
                       where, cell);
    for (const char *c = cell; *c; c++)
      if (g_ascii_iscntrl(*c))
        return ew_refuse(error,
                         "%s: a cell goes over two lines, or has a character that does not print; "
                         "write it in one line",
                         where);
    if (strlen(cell) > CELL_MOST)
      return ew_refuse(error, "%s: a cell has more than %d bytes: '%.40s'", where, CELL_MOST, cell);
  }
  return r->lines->len < EW_JOB_LINES_MOST ||
         ew_refuse(error, "%s: more than %d lines: split the table", where, EW_JOB_LINES_MOST);
}

static gboolean read_line(struct reading *r, const GPtrArray *cells, GError **error) {
  struct ew_job_line l = {0};
  if (!fits(r, cells, error) || !read_code(r, cell_of(r, cells, CODE), error) ||
      !read_kind(r, cells, &l.labour, error) || !read_days(r, cells, &l.days, error) ||
      !read_decimal(r, cells, PRICE, PRICE_MOST, &l.price, error) ||
      !read_decimal(r, cells, QUANTITY, QUANTITY_MOST, &l.quantity, error) ||
      !read_currency(r, cells, error))
    return FALSE;
  g_autofree char *where = place(r);
  if (r->kind == EW_JOB_LINES_PRICES && !cell_of(r, cells, NAME))
    return ew_refuse(error, "%s: 'name' is missing: the customer reads it in the quote", where);
  if (r->kind == EW_JOB_LINES_WANTED && l.quantity == 0)
    return ew_refuse(error, "%s: the quantity is 0; leave the line out", where);
  l.code = g_strdup(cell_of(r, cells, CODE));
  l.name = g_strdup(cell_of(r, cells, NAME));
  l.unit = g_strdup(cell_of(r, cells, UNIT));
  l.tax = g_strdup(cell_of(r, cells, TAX));
  l.supplier = g_strdup(cell_of(r, cells, SUPPLIER));
  l.supplier_number = g_strdup(cell_of(r, cells, NUMBER));
  g_array_append_val(r->lines, l);
  return TRUE;
}

static gboolean is_empty(const GPtrArray *cells) {
  for (guint i = 0; i < cells->len; i++)
    if (*(const char *)cells->pdata[i])
      return FALSE;
  return TRUE;
}

static gboolean read_all(struct reading *r, const char *text, GError **error) {
  gboolean good = TRUE, head = FALSE;
  guint next = 1;
  while (good && *text) {
    r->line = next;
    g_autoptr(GPtrArray) cells = split(&text, r->between, &next);
    if (is_empty(cells))
      continue;
    good = head ? read_line(r, cells, error) : read_head(r, cells, error);
    head = TRUE;
  }
  return good &&
         (r->lines->len || ew_refuse(error, "%s: the table has no line below its head", r->where));
}

GArray *ew_job_lines_read(const char *text, gsize size, const char *where,
                          enum ew_job_lines_kind kind, char **currency, GError **error) {
  g_autofree char *plain = NULL;
  if (memchr(text, 0, size)) {
    ew_refuse(error, "%s: this is not a table as text; save it as CSV", where);
    return NULL;
  }
  plain = g_utf8_validate(text, (gssize)size, NULL)
              ? g_strndup(text, size)
              : g_convert(text, (gssize)size, "UTF-8", "WINDOWS-1252", NULL, NULL, NULL);
  if (!plain) {
    ew_refuse(error, "%s: the letters of this file are neither UTF-8 nor Windows-1252", where);
    return NULL;
  }
  const char *begin = g_str_has_prefix(plain, "\xef\xbb\xbf") ? plain + 3 : plain;
  begin += strspn(begin, "\r\n");
  struct reading r = {.where = where,
                      .kind = kind,
                      .between = guess_between(begin),
                      .takes_currency = currency != NULL,
                      .lines = ew_job_lines_new(),
                      .codes = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL)};
  gboolean good = read_all(&r, begin, error);
  g_hash_table_unref(r.codes);
  if (currency)
    *currency = good ? g_steal_pointer(&r.currency) : NULL;
  g_free(r.currency);
  if (!good)
    g_clear_pointer(&r.lines, g_array_unref);
  return r.lines;
}

/* ---- to text ---- */

void ew_csv_append(GString *text, const char *cell, gboolean first) {
  if (!first)
    g_string_append_c(text, ',');
  if (!cell || !*cell)
    return;
  gint64 value;
  gboolean formula = strchr("=+-@\t", *cell) && ew_decimal_read(cell, &value) != EW_DECIMAL_FINE;
  if (!formula && !strpbrk(cell, ",;\"\t\r\n")) {
    g_string_append(text, cell);
    return;
  }
  g_string_append(text, formula ? "\"'" : "\"");
  for (const char *c = cell; *c; c++)
    g_string_append_printf(text, "%s%c", *c == '"' ? "\"" : "", *c);
  g_string_append_c(text, '"');
}

/* As ew_csv_append, but every text as it is: it is read back here. */
static void append_own(GString *text, const char *cell, gboolean first) {
  if (!first)
    g_string_append_c(text, ',');
  if (!cell || !*cell)
    return;
  g_string_append_c(text, '"');
  for (const char *c = cell; *c; c++)
    g_string_append_printf(text, "%s%c", *c == '"' ? "\"" : "", *c);
  g_string_append_c(text, '"');
}

char *ew_job_lines_write(const GArray *lines) {
  GString *text =
      g_string_new("code,name,kind,unit,price,tax,supplier,supplier_number,days,quantity\n");
  for (guint i = 0; i < lines->len; i++) {
    const struct ew_job_line *l = &g_array_index(lines, struct ew_job_line, i);
    char price[EW_DECIMAL_SIZE], quantity[EW_DECIMAL_SIZE], days[16] = "";
    if (l->days >= 0)
      g_snprintf(days, sizeof days, "%d", l->days);
    const char *cells[] = {l->code,
                           l->name,
                           l->labour ? "labour" : "part",
                           l->unit,
                           ew_decimal_write(l->price, price),
                           l->tax,
                           l->supplier,
                           l->supplier_number,
                           days,
                           ew_decimal_write(l->quantity, quantity)};
    for (gsize k = 0; k < G_N_ELEMENTS(cells); k++)
      append_own(text, cells[k], k == 0);
    g_string_append_c(text, '\n');
  }
  return g_string_free(text, FALSE);
}

char *ew_job_prices_write(const GArray *lines, const char *currency) {
  GString *text =
      g_string_new("code,name,kind,unit,price,tax,supplier,supplier_number,days,currency\n");
  for (guint i = 0; i < lines->len; i++) {
    const struct ew_job_line *l = &g_array_index(lines, struct ew_job_line, i);
    char price[EW_DECIMAL_SIZE], days[16] = "";
    if (l->days >= 0)
      g_snprintf(days, sizeof days, "%d", l->days);
    const char *cells[] = {l->code,
                           l->name,
                           l->labour ? "labour" : "part",
                           l->unit,
                           ew_decimal_write(l->price, price),
                           l->tax,
                           l->supplier,
                           l->supplier_number,
                           days,
                           currency};
    for (gsize k = 0; k < G_N_ELEMENTS(cells); k++)
      ew_csv_append(text, cells[k], k == 0);
    g_string_append_c(text, '\n');
  }
  return g_string_free(text, FALSE);
}
