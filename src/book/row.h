/* A row as it travels: what it holds, as text, beside it the bytes that are too long for that. It has the same text wherever it is
 * read, so that a digest of it can be compared.
 *
 *   {"row":{"id":7,"name":"...","bytes":{"sha256":"..."}}}   it is there; numbers, texts, null as in the table
 *   {"gone":true}                                          it was deleted
 *   {"left":["a","b"]}                                     a row of the table was deleted, these are left
 *   {"real":"inf"}                                         in place of a number that JSON hasn't */
#pragma once
#include <glib.h>

#define EW_SHA256_SIZE 65

/* Which row. */
struct ew_row_name {
  const char *what; /* the table */
  gboolean has_number;
  gint64 number;
  const char *key; /* NULL: none */
};

struct ew_row {
  char *body;
  GPtrArray *parts; /* GBytes*: the bytes, in the order in which the body names them */
  char *uid;        /* NULL: it has none of its own */
  char *lasting;    /* SHA-256 of what never changes in it; NULL without uid */
};
void ew_row_clear(struct ew_row *row);
/* SHA-256 over its name and its body. */
void ew_row_digest(const struct ew_row_name *name, const char *body, char digest[EW_SHA256_SIZE]);
