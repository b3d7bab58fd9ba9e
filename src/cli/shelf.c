/* The shelf of the book: parts that a search chooses from. */
#include "base/error.h"
#include "base/number.h"
#include "base/words.h"
#include "cli/command.h"
#include "desk/shelf.h"
#include <math.h>
#include <string.h>

#define BOOK                                                                                       \
  { "book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE }

/* A table by its name, else a list. */
static gboolean read_file(const char *path, GPtrArray *parts, GError **error) {
  g_autofree char *small = g_ascii_strdown(path, -1);
  if (g_str_has_suffix(small, ".csv")) {
    g_autoptr(GBytes) bytes = ew_read_file(path, error);
    gsize size = bytes ? g_bytes_get_size(bytes) : 0;
    g_autofree char *text = bytes ? g_strndup(g_bytes_get_data(bytes, NULL), size) : NULL;
    return text && ew_shelf_read_table(text, path, parts, error);
  }
  g_autoptr(ew_node) root = ew_node_read(path, error);
  return root && ew_shelf_read(root, path, parts, error);
}

static gboolean run_add(const struct ew_call *call, GError **error) {
  g_autoptr(GPtrArray) more = ew_shelf_new();
  g_autofree char *was = NULL;
  struct ew_shelf_added added;
  if (!read_file(ew_call_argument(call, 0), more, error))
    return FALSE;
  if (more->len == 0)
    return ew_refuse(error, "%s: no part in it", ew_call_argument(call, 0));
  g_autoptr(ew_book) book = ew_call_book(call, TRUE, TRUE, error);
  g_autoptr(GPtrArray) shelf = book ? ew_shelf_load(book, &was, error) : NULL;
  if (!shelf || !ew_shelf_add(shelf, more, ew_call_has(call, "replace"), &added, error) ||
      (added.added + added.replaced > 0 && !ew_shelf_keep(book, shelf, was, error)))
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_integer(&json, "added", added.added);
    ew_json_integer(&json, "replaced", added.replaced);
    ew_json_integer(&json, "known", added.same);
    ew_json_integer(&json, "parts", shelf->len);
    ew_answer_end(&json);
  } else
    ew_say("%d parts added, %d replaced, %d known already; the shelf has %u.", added.added,
           added.replaced, added.same, shelf->len);
  return TRUE;
}

/* "340.00", "340.00 by the price table", "340.00; the price table says 355.00" */
static char *price_text(const struct ew_shelf_part *p) {
  char price[EW_NUMBER_SIZE], table[EW_NUMBER_SIZE];
  if (isnan(p->price))
    return g_strdup(ew_tr(EW_TEXT("no price")));
  ew_number_shown(p->price, 2, price);
  if (!p->code || p->price == p->table_price)
    return p->priced ? ew_words("%s by the price table, %s", price, p->code) : g_strdup(price);
  ew_number_shown(p->table_price, 2, table);
  return ew_words("%s; the price table says %s, %s", price, table, p->code);
}

static void say_part(const struct ew_shelf_part *p) {
  GString *text = g_string_new(NULL);
  g_autofree char *price = price_text(p);
  for (guint i = 0; i < p->field->len; i++) {
    const struct ew_shelf_field *f = &g_array_index(p->field, struct ew_shelf_field, i);
    g_string_append_printf(text, "%s%s %s", i ? ", " : "", f->name, f->value);
  }
  ew_say("%s: %s  [%s]  %s", p->place, p->name, price, text->str);
  g_string_free(text, TRUE);
}

static gboolean run_list(const struct ew_call *call, GError **error) {
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  g_autoptr(GPtrArray) shelf = book ? ew_shelf_load(book, NULL, error) : NULL;
  if (!shelf || !ew_shelf_take_prices(book, shelf, NULL, error))
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_shelf_write_json(shelf, &json);
    ew_answer_end(&json);
    return TRUE;
  }
  for (guint i = 0; i < shelf->len; i++)
    say_part(g_ptr_array_index(shelf, i));
  if (shelf->len == 0)
    ew_say("The shelf is empty; 'shelf add' fills it.");
  return TRUE;
}

static gboolean run_remove(const struct ew_call *call, GError **error) {
  g_autofree char *was = NULL;
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  g_autoptr(GPtrArray) shelf = book ? ew_shelf_load(book, &was, error) : NULL;
  if (!shelf ||
      !ew_shelf_remove(shelf, ew_call_argument(call, 0), ew_call_argument(call, 1), error) ||
      !ew_shelf_keep(book, shelf, was, error))
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_integer(&json, "parts", shelf->len);
    ew_answer_end(&json);
  } else
    ew_say("Taken off; the shelf has %u parts.", shelf->len);
  return TRUE;
}

static const struct ew_option_spec add_options[] = {
    BOOK,
    {"replace", NULL, EW_TEXT("parts of the same place and name take these figures and prices"),
     FALSE},
    {NULL, NULL, NULL, FALSE}};
static const struct ew_option_spec book_options[] = {BOOK, {NULL, NULL, NULL, FALSE}};

const struct ew_command ew_command_shelf_add = {
    .name = "shelf add",
    .summary = EW_TEXT("Cams, heads, headers that the shop can fit, each with price and figures"),
    .takes = EW_TEXT("FILE"),
    .least = 1,
    .most = 1,
    .options = add_options,
    .run = run_add,
    .examples = "shelf add parts.yaml\nshelf add parts.csv --replace",
    .more = EW_TEXT("A list as a question of 'engine search' has it, or a table (.csv) with the "
                    "columns place, name, price,\nand then a column for each field of the engine's "
                    "file that a part sets. A question takes parts by name:\n{place: camshaft, "
                    "parts: [fast road, hill climb]}, or parts: all.")};
const struct ew_command ew_command_shelf_list = {.name = "shelf list",
                                                 .summary = EW_TEXT("What is on the shelf"),
                                                 .takes = "",
                                                 .least = 0,
                                                 .most = 0,
                                                 .options = book_options,
                                                 .run = run_list,
                                                 .examples = "shelf list"};
const struct ew_command ew_command_shelf_remove = {.name = "shelf remove",
                                                   .summary = EW_TEXT("Take a part off the shelf"),
                                                   .takes = EW_TEXT("PLACE NAME"),
                                                   .least = 2,
                                                   .most = 2,
                                                   .options = book_options,
                                                   .run = run_remove,
                                                   .examples =
                                                       "shelf remove camshaft \"hill climb\""};
