/* The port beneath the book: what a store must be able to do, and nothing of how.
 *
 * The verbs of this room (store.h, stream.h, build.h ...) speak plain SQL through book/sql.h, and book/sql.h speaks to a
 * store through this table alone. A store is one class of functions; src/book/sqlite/ is the one that ships. The suite
 * tests/contract/book runs against every class, also against one that fails, is late and answers out of order.
 *
 * What a store promises:
 *   1. Between begin and commit nobody else writes, and what is read is what is there at commit. A store that can't hold
 *      that (another writer came first) says EW_PORT_AGAIN from any function: the transaction is rolled back and its
 *      whole body is run again (book/write.h).
 *   2. commit: all of it, for good, or nothing. rollback never fails; without a transaction it does nothing.
 *   3. Rows come in the order that ORDER BY asks for, and in any order where it asks for none.
 *   4. A failure is a GError in a sentence for people and EW_PORT_FAILED; never a row, never a zero.
 *   5. NULL where the table says NOT NULL is a failure of step, not a row.
 *   6. After a failure within a transaction commit fails: an error that nobody looked at is not taken for an answer and kept.
 *
 * The SQL is the common part of SQLite 3.40 and PostgreSQL: parameters ?1, ?2 ..., RETURNING, ON CONFLICT, SAVEPOINT. A store
 * that writes parameters otherwise translates them in `prepare`; the first use of one must say its type (x = ?1 OR ?1 IS NULL). One thread at a time speaks to a store. */
#pragma once
#include "book/row.h"
#include <glib.h>

enum ew_port_answer { EW_PORT_DONE, EW_PORT_ROW, EW_PORT_AGAIN, EW_PORT_FAILED };

enum ew_port_kind {
  EW_PORT_NULL,
  EW_PORT_NUMBER,
  EW_PORT_REAL,
  EW_PORT_TEXT,
  EW_PORT_BYTES,
  EW_PORT_ZEROES
};
/* A value to bind; the store copies what it points to before it returns. */
struct ew_port_value {
  enum ew_port_kind kind;
  gint64 number;
  double real;
  const void *bytes; /* of TEXT and BYTES; text is valid UTF-8 */
  gsize size;        /* of ZEROES: as many bytes of 0, to be filled */
};

struct ew_port_class;
/* First member of each implementation's own struct; so is ew_port_rows. */
struct ew_port {
  const struct ew_port_class *class;
  gboolean again; /* said EW_PORT_AGAIN since this was last cleared; book/sql.c sets it */
};
struct ew_port_rows {
  struct ew_port *port;
};

struct ew_port_change {
  gint64 by_others, by_this;
};

struct ew_port_class {
  const char *name;
  void (*close)(struct ew_port *port);

  enum ew_port_answer (*begin)(struct ew_port *port, GError **error); /* to write */
  enum ew_port_answer (*commit)(struct ew_port *port, GError **error);
  void (*rollback)(struct ew_port *port);
  gboolean (*is_open)(
      struct ew_port *port); /* is a transaction under way? a full disk may have ended it */

  /* One statement. NULL with *error. It may be left before its last row. */
  struct ew_port_rows *(*prepare)(struct ew_port *port, const char *sql, GError **error);
  void (*bind)(struct ew_port_rows *rows, int index,
               const struct ew_port_value *value); /* from 1 */
  enum ew_port_answer (*step)(struct ew_port_rows *rows, GError **error);
  void (*finish)(struct ew_port_rows *rows);
  /* Of the row at hand, columns from 0. What is pointed to holds until the next step. */
  int (*columns)(struct ew_port_rows *rows);
  gboolean (*is_null)(struct ew_port_rows *rows, int column);
  gint64 (*number)(struct ew_port_rows *rows, int column);
  double (*real)(struct ew_port_rows *rows, int column);
  const char *(*text)(struct ew_port_rows *rows, int column); /* NULL is NULL */
  const void *(*bytes)(struct ew_port_rows *rows, int column, gsize *size);

  /* Writes into a column of bytes that was made as long, piece by piece: never a second time in memory. */
  gboolean (*fill)(struct ew_port *port, const char *table, const char *column, gint64 id,
                   const void *data, gsize size, GError **error);
  /* Two values of one connection differ after any change by anybody; FALSE with *error: not known. O(1). */
  gboolean (*change)(struct ew_port *port, struct ew_port_change *change, GError **error);
  /* What "stored" means from now on: with `power` a commit outlives a power cut, else the program only. */
  gboolean (*durable)(struct ew_port *port, gboolean power, GError **error);
  gboolean (*checkpoint)(struct ew_port *port, gboolean all, GError **error);
  gint64 (*size)(struct ew_port *port,
                 GError **error); /* bytes of a whole copy at most; -1 on error */
  gboolean (*copy)(struct ew_port *port, const char *path,
                   GError **error); /* whole, of one instant */
  /* Bytes that hold nothing and are written to next (-1 on error), and the store written again without them; NULL: it keeps no such room. */
  gint64 (*spare)(struct ew_port *port, GError **error);
  gboolean (*shrink)(struct ew_port *port, GError **error);
  /* Is what holds the rows sound? One call a fault, in a sentence. */
  gboolean (*check)(struct ew_port *port, void (*fault)(const char *what, gpointer user),
                    gpointer user, GError **error);
  /* Asked now and then while a statement runs; other than 0 ends it with an error. NULL: nobody is asked any more. */
  void (*watch)(struct ew_port *port, int (*asked)(void *user), void *user, int often);

  /* What leaves the cell (book/ship.h); of the store that a cell writes to. Once a book belongs to a shop, commit itself notes
   * which rows were written, in the table `outbox`. fill_outbox notes every row there is. */
  gboolean (*fill_outbox)(struct ew_port *port, GError **error);
  gboolean (*row_read)(struct ew_port *port, const struct ew_row_name *name, struct ew_row *row,
                       GError **error);
  gboolean (*row_put)(struct ew_port *port, const struct ew_row_name *name,
                      const struct ew_row *row, GError **error);
};
