/* price load, price list, price export: the shop's own price table, a further version each time. */
#include "base/words.h"
#include "cli/build_call.h"
#include "cli/job_call.h"
#include "desk/job.h"
#include "job/decimal.h"
#include <stdio.h>
#include <string.h>

static GArray *read_table(const char *path, char **currency, GError **error) {
  g_autoptr(GBytes) bytes = ew_read_file(path, error);
  gsize size = 0;
  const char *text = bytes ? g_bytes_get_data(bytes, &size) : NULL;
  return bytes
             ? ew_job_lines_read(text ? text : "", size, path, EW_JOB_LINES_PRICES, currency, error)
             : NULL;
}

static gboolean run_load(const struct ew_call *call, GError **error) {
  g_autofree char *in_table = NULL;
  const char *asked = ew_call_option(call, "currency");
  GArray *lines = read_table(ew_call_argument(call, 0), &in_table, error);
  if (!lines)
    return FALSE;
  if (asked && in_table && strcmp(asked, in_table) != 0) {
    g_array_unref(lines);
    return ew_refuse(error, "--currency '%.20s', and the table says '%.20s'", asked, in_table);
  }
  struct ew_node *map = ew_job_call_map(call, EW_JOB_PRICES);
  if (!asked)
    ew_node_put(map, "currency", in_table);
  return ew_job_call_do(call, EW_JOB_PRICES, map, lines, error);
}
static const struct ew_option_spec load_options[] = {
    {"currency", EW_TEXT("TEXT"), EW_TEXT("of all its prices, where the table has no such column"),
     FALSE},
    EW_JOB_SURE_OPTION,
    EW_JOB_MARK_OPTIONS,
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_price_load = {
    .name = "price load",
    .summary = EW_TEXT("The shop's price table from a file: its next version, for quotes from now"),
    .takes = EW_TEXT("FILE"),
    .least = 1,
    .most = 1,
    .options = load_options,
    .run = run_load,
    .examples = "price load examples/prices/shop.csv",
    .more = EW_TEXT(
        "A table as a spreadsheet saves it, with the columns code, name, price, and where wanted "
        "kind (part, labour), unit, tax,\nsupplier, supplier_number, days (to deliver), currency. "
        "A decimal comma is read; what can be read in two ways is\nrefused with its line. Quotes "
        "that are there keep their prices.")};

static const struct ew_option_spec book_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE}, {NULL, NULL, NULL, FALSE}};

static gboolean open_prices(const struct ew_call *call, struct ew_job **shop,
                            const struct ew_job_prices **prices, GError **error) {
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  *shop = book ? ew_job_load(book, 0, error) : NULL;
  *prices = *shop ? ew_job_prices_now(*shop) : NULL;
  return *prices || (*shop && ew_refuse(error, "there is no price table yet: 'price load FILE'"));
}

static gboolean run_list(const struct ew_call *call, GError **error) {
  g_autoptr(ew_job) shop = NULL;
  const struct ew_job_prices *p;
  if (!open_prices(call, &shop, &p, error))
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_integer(&json, "version", p->version);
    ew_json_text(&json, "currency", p->currency);
    ew_json_text(&json, "day", p->mark.day);
    ew_job_lines_json(p->mark.lines, &json);
    ew_answer_end(&json);
    return TRUE;
  }
  ew_say("version %d of %s, in %s", p->version, p->mark.day, p->currency);
  for (guint i = 0; i < p->mark.lines->len; i++) {
    const struct ew_job_line *l = &g_array_index(p->mark.lines, struct ew_job_line, i);
    g_autofree char *price = ew_money_show(l->price);
    ew_say("  %-20s %12s %-6s %s", l->code, price, l->unit ? l->unit : "", l->name);
  }
  return TRUE;
}
const struct ew_command ew_command_price_list = {.name = "price list",
                                                 .summary =
                                                     EW_TEXT("The price table that counts now"),
                                                 .takes = "",
                                                 .options = book_options,
                                                 .run = run_list,
                                                 .examples = "price list"};

static gboolean run_export(const struct ew_call *call, GError **error) {
  g_autoptr(ew_job) shop = NULL;
  const struct ew_job_prices *p;
  if (!open_prices(call, &shop, &p, error))
    return FALSE;
  g_autofree char *text = ew_job_prices_write(p->mark.lines, p->currency);
  fputs(text, stdout);
  return TRUE;
}
const struct ew_command ew_command_price_export = {
    .name = "price export",
    .prints_text = TRUE,
    .summary = EW_TEXT("The same as a table, to edit and load again"),
    .takes = "",
    .options = book_options,
    .run = run_export,
    .examples = "price export > prices.csv"};
