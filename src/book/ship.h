/* What leaves the cell: a book that belongs to a shop notes each row that it writes in its outbox, and a shipper (room `shop`)
 * sends the rows on. Here is what the shipper needs of the book, and how a copy is made of what the shop holds.
 *
 *   line: a stretch of the outbox that one writer wrote. Lines follow each other without a gap, the last is the one that grows:
 *         writer A: 1 ... 420 | writer B (a copy of A's book): 421 ... 600
 *   A number of the outbox and its mark name one change. A shop that has another mark at a number of the same writer has it from a
 *   book that went on apart (a backup that was put back over the file, a disk that was cloned): ew_keep_fork begins a new
 *   writer after the last change that both have, and nothing is ever sent twice under one name.
 *
 * Reading is in steps of the store's own: what is read while ew_ship_read runs is of one instant. */
#pragma once
#include "book/book.h"
#include "book/row.h"

/* Makes the book one of the shop at `address` (no password in it). Everything in the book is noted to be sent. Refused: it
 * belongs to another shop, or it is a copy that was read from one. Again with the same address: nothing happens. O(rows). */
gboolean ew_keep_join(struct ew_book *book, const char *address, GError **error);
struct ew_ship_state {
  char *address,
      *role;        /* NULL: it belongs to none. "sends"; "reads": a copy of what the shop holds */
  char *shipped_at; /* NULL: never */
  gint64 shipped, first,
      last; /* numbers of the outbox: the last that the shop said it has; the first and last there are, 0: none */
  double clock_s; /* the shop's clock less this one's, when that was asked; NaN: never */
};
gboolean ew_ship_state(struct ew_book *book, struct ew_ship_state *state, GError **error);
void ew_ship_state_clear(struct ew_ship_state *state);
/* What the shop said it has; without a line in the change log. */
gboolean ew_keep_shipped(struct ew_book *book, gint64 shipped, double clock_s, GError **error);

/* What the shop has had for long leaves the outbox: the changes up to `upto`, but for the last there is, whose number the next
 * goes on from. Several short transactions, so that a recording beside it never waits. O(what leaves). */
gboolean ew_keep_trimmed(struct ew_book *book, gint64 upto, GError **error);
/* A new writer from here on, to which every row is noted again; no earlier line is there any more. For a shop that lost what has
 * left the outbox. O(rows). */
gboolean ew_keep_send_anew(struct ew_book *book, GError **error);

struct ew_ship_line {
  char *writer;
  gint64 first, last; /* last < first: nothing yet */
};
/* struct ew_ship_line, oldest first, cleared by the array. Empty: the book belongs to no shop. */
GArray *ew_ship_lines(struct ew_book *book, GError **error);
/* *mark 0: there is no such number. */
gboolean ew_ship_mark(struct ew_book *book, gint64 seq, gint64 *mark, GError **error);
/* A new writer from the change after `common` on. */
gboolean ew_keep_fork(struct ew_book *book, gint64 common, GError **error);

struct ew_letter {
  gint64 seq, mark;
  struct ew_row_name name;
  struct ew_row row;
  char digest[EW_SHA256_SIZE]; /* of its name and body */
};
typedef gboolean (*ew_ship_take)(const struct ew_letter *letter, gpointer user, GError **error);
/* Hands out what comes after number `after`, up to `last`: `rows` of them or `bytes` of theirs, and then on to the end of the
 * transaction that wrote them. *reached: the last that was handed out. FALSE from `take` ends it. */
gboolean ew_ship_read(struct ew_book *book, gint64 after, gint64 last, int rows, gsize bytes,
                      ew_ship_take take, gpointer user, gint64 *reached, GError **error);

/* A copy of what a shop holds of a cell: everything that `body` puts, in one transaction, or nothing. The book must be new or such
 * a copy of the same shop. */
typedef gboolean (*ew_copy_body)(struct ew_book *copy, gpointer user, GError **error);
gboolean ew_keep_copy(struct ew_book *copy, const char *address, ew_copy_body body, gpointer user,
                      GError **error);
/* Within it. */
gboolean ew_copy_put(struct ew_book *copy, const struct ew_letter *letter, GError **error);
/* A copy becomes a cell's own book, which is written to and sends: for a cell whose disk was lost. */
gboolean ew_keep_adopt(struct ew_book *copy, GError **error);

/* Was this book read from a shop? Then nothing is changed in it. */
gboolean ew_book_is_copy(const struct ew_book *book);
