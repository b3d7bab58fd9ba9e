/* The shop's shelf: cams, heads, headers that it has or can buy, each a set of fields of the engine's file with a price, kept in the book (the setting
 * `shelf`) and taken by name in a question to the search.
 *
 *   a list as a question has it (YAML or JSON), or a table (CSV: place, name, price, then a column a field; an empty cell sets nothing)
 *     -> read, each figure checked as a change to an engine -> added to what the book has -> kept
 *
 * A part of the same place and name is the same part: other figures or another price are refused unless it is to be replaced. */
#pragma once
#include "base/json_writer.h"
#include "base/node.h"
#include "book/book.h"

#define EW_SHELF_MOST 1000 /* parts */

struct ew_shelf_field {
  char *name, *value; /* as they were typed: "inlet.duration", "274 deg" */
};
struct ew_shelf_part {
  char *place, *name;
  double price;  /* NaN: none is given */
  GArray *field; /* struct ew_shelf_field */
  /* of ew_shelf_take_prices: */
  char *
      code; /* the line of the price table that has the part's name or code; NULL: none, or not asked */
  double table_price; /* what that line says */
  gboolean priced;    /* `price` is that one: the shelf gives none */
};
/* An empty shelf; free it with g_ptr_array_unref. */
GPtrArray *ew_shelf_new(void);
/* Parts of a list are added to `shelf` (struct ew_shelf_part); those read before a refusal stay there. */
gboolean ew_shelf_read(const struct ew_node *list, const char *where, GPtrArray *shelf,
                       GError **error);
gboolean ew_shelf_read_table(const char *text, const char *where, GPtrArray *shelf, GError **error);
/* Each of `more` goes onto the shelf, with what it holds (`more` is empty then). Refuses a part that is there otherwise, unless `replace`. */
struct ew_shelf_added {
  int added, same, replaced;
};
gboolean ew_shelf_add(GPtrArray *shelf, GPtrArray *more, gboolean replace,
                      struct ew_shelf_added *added, GError **error);
/* Refuses what is not there, with what is. */
gboolean ew_shelf_remove(GPtrArray *shelf, const char *place, const char *name, GError **error);

/* From the book; empty where none was kept. *was (may be NULL): how the book has it now, for keeping it changed; g_free. */
GPtrArray *ew_shelf_load(struct ew_book *book, char **was, GError **error);
/* An answer of no when somebody else changed it since. */
gboolean ew_shelf_keep(struct ew_book *book, const GPtrArray *shelf, const char *was,
                       GError **error);
/* Beside each part what the shop's price table in force says of it: the line of a part whose name or code it has, without case; where two lines
 * have the name, neither. A part without a price of its own takes that one; one with a price keeps it. Prices taken so are not kept: the next
 * table is asked again. *version (may be NULL): of the table, 0 without one. O(parts x lines). */
gboolean ew_shelf_take_prices(struct ew_book *book, GPtrArray *shelf, int *version, GError **error);
/* {"shelf": [{place, parts: [{name, price, set}]}]}, into an object that is open. */
void ew_shelf_write_json(const GPtrArray *shelf, struct ew_json *json);
/* NULL: no such part. */
const struct ew_shelf_part *ew_shelf_find(const GPtrArray *shelf, const char *place,
                                          const char *name);
