/* A source put together field by field, for who does not write its address by hand: each kind has a table of fields, with the ranges
 * that its opener takes, and gives the address that the command line takes too.
 *
 * A bus needs a table of what stands where on it as well: rows of its map (cell/bus_map.h). */
#pragma once
#include "cell/bus_map.h"

struct ew_source_form {
  const char *key;  /* "modbus-rtu" */
  const char *says; /* EW_TEXT: what it is */
  struct ew_fields table;
  const char *rows; /* "registers", "signals" or "topics"; NULL: it has none */
  gboolean may_lack_rows;
};

/* By its place; NULL beyond the last. */
const struct ew_source_form *ew_source_form_at(guint place);
const struct ew_source_form *ew_source_form_of(const char *key); /* NULL: no such kind */

struct ew_source_fault {
  char *field; /* "port", or "2.address" for the third row */
  char *says;
};
/* Each field of `typed` (a map of texts, or NULL) and of `rows` (a list of such maps, or NULL), as far as they can be read. Every fault is put
 * into `faults` (struct ew_source_fault, freed by it). `map_path`: where the rows will be found; `book_path`: of what is played again.
 * The address without faults, else NULL. */
char *ew_source_form_url(const struct ew_source_form *form, const struct ew_node *typed,
                         const struct ew_node *rows, const char *map_path, const char *book_path,
                         GPtrArray *faults);
GPtrArray *ew_source_faults_new(void);
void ew_source_faults_add(GPtrArray *faults, const char *field, const char *says);
/* The rows as the map that the address names; only of rows that were found without fault. The caller frees it. */
char *ew_source_form_map(const struct ew_source_form *form, const struct ew_node *rows);
/* A map's text, as its file has it, into rows as they could be typed: members of an open array. */
gboolean ew_source_form_rows(const struct ew_source_form *form, const char *text,
                             struct ew_json *json, GError **error);
