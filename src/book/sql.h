/* Prepared statements with bound values: the only way SQL is spoken in this room, and only in this room. */
#pragma once
#include "book/book.h"
#include "book/port.h"

struct ew_port *ew_book_port(struct ew_book *book);
/* A book over any store, which it takes; for tests of the port. */
struct ew_book *ew_book_over(struct ew_port *port);

/* `types` has one letter a value: i gint64, d double (NaN is NULL), t text (NULL is NULL), b a blob as
 * two arguments (const void*, gsize), z as many bytes of 0 (gsize), o the four values of EW_ORIGIN_COLUMNS (struct ew_origin*). Runs the statement to its end. */
gboolean ew_sql_run(struct ew_port *port, GError **error, const char *sql, const char *types, ...);
/* The same of an INSERT that ends in RETURNING id: the id, or 0 with *error. */
gint64 ew_sql_insert(struct ew_port *port, GError **error, const char *sql, const char *types, ...);
/* The same, to be stepped by ew_sql_next and finished with ew_sql_done. */
struct ew_port_rows *ew_sql_query(struct ew_port *port, GError **error, const char *sql,
                                  const char *types, ...);
/* TRUE while there is a row. An error ends the rows and is set. NULL where the table says NOT NULL is
 * such an error: readers may rely on it. */
gboolean ew_sql_next(struct ew_port_rows *rows, GError **error);
void ew_sql_done(struct ew_port_rows *rows); /* may be NULL */

gint64 ew_sql_int(struct ew_port_rows *rows, int column);
double ew_sql_double(struct ew_port_rows *rows, int column); /* NULL is NaN */
char *ew_sql_text(struct ew_port_rows *rows, int column); /* a copy in valid UTF-8; NULL is NULL */
/* As it stands there, until the next row. */
const char *ew_sql_peek(struct ew_port_rows *rows, int column);
const void *ew_sql_bytes(struct ew_port_rows *rows, int column, gsize *size);
GBytes *ew_sql_blob(struct ew_port_rows *rows, int column); /* a copy */
/* The first cell of the first row, 0 without a row (and where it is NULL). */
gboolean ew_sql_number(struct ew_port *port, gint64 *number, GError **error, const char *sql,
                       const char *types, ...);
/* The same as yes or no: is it other than 0? */
gboolean ew_sql_is(struct ew_port *port, gboolean *is, GError **error, const char *sql,
                   const char *types, ...);

/* Hands a failure (NULL: none, TRUE) on to who asked; where nobody did, keeps it for ew_book_take_trouble. Takes `problem`. */
gboolean ew_sql_tell(GError *problem, GError **error);
/* The first failure of a statement on this thread that nobody was told of (NULL for its error) since this was last asked, to be
 * freed. What was taken for an answer then was none: book/write.c keeps nothing that follows it. */
GError *ew_sql_take_unheard(void);
/* For a store: "the book is damaged: ..." as an error, and remembered for ew_book_take_trouble. FALSE. */
gboolean ew_sql_damaged(GError **error, const char *format, ...) G_GNUC_PRINTF(2, 3);
