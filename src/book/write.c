/* Transactions: begun, run again when the store says so, never left open. */
#include "book/write.h"
#include "base/error.h"
#include "book/book_inside.h"
#include "book/origin.h"
#include "book/sql.h"

#define TRIES 5 /* a store waits about a second for the right to write before it says so */

gboolean ew_book_is_writing(const struct ew_book *book) {
  return book->writing;
}

static enum ew_port_answer begin(struct ew_book *book, GError **error) {
  book->port->again = FALSE;
  if (book->reads) {
    ew_refuse(error, "this book is a copy that was read from the shop: nothing is changed in it; "
                     "change the cell's own book");
    return EW_PORT_FAILED;
  }
  enum ew_port_answer answer = book->port->class->begin(book->port, error);
  book->writing = answer == EW_PORT_DONE;
  book->failed = FALSE;
  if (answer != EW_PORT_DONE || ew_origin_begin(book, error))
    return answer;
  ew_book_rollback(book);
  g_assert(!book->writing);
  return book->port->again ? EW_PORT_AGAIN : EW_PORT_FAILED;
}

gboolean ew_book_begin(struct ew_book *book, GError **error) {
  g_assert(!book->writing);
  return begin(book, error) == EW_PORT_DONE;
}

gboolean ew_book_commit(struct ew_book *book, GError **error) {
  g_assert(book->writing);
  enum ew_port_answer answer = book->port->class->commit(book->port, error);
  book->port->again |= answer == EW_PORT_AGAIN;
  if (answer != EW_PORT_DONE)
    ew_book_rollback(book);
  book->writing = FALSE;
  return answer == EW_PORT_DONE;
}

void ew_book_rollback(struct ew_book *book) {
  if (!book->writing)
    return;
  book->port->class->rollback(book->port);
  g_clear_pointer(&book->writer, g_free); /* its row may have gone with it */
  book->writing = FALSE;
  g_assert(!book->writing);
}

/* A store itself gives up a transaction when the disk is full: what follows must not stand alone. */
static gboolean join(struct ew_book *book, ew_write_body body, gpointer user, GError **error) {
  g_assert(book->writing);
  gboolean good =
      book->port->class->is_open(book->port) ||
      ew_fail(error, "book: the transaction was rolled back: the disk is full, or memory ran "
                     "out; nothing was stored");
  good = good && body(book, user, error);
  book->failed |= !good;
  return good;
}

/* What was read for it, before or within, and could not be, was taken for something that is not there. */
static gboolean was_heard(GError **error) {
  g_autoptr(GError) unheard = ew_sql_take_unheard();
  return !unheard ||
         ew_fail(
             error,
             "something that this depends on could not be read (%s): nothing was stored; try again",
             unheard->message);
}

static void forget_unheard(void) {
  g_autoptr(GError) unheard = ew_sql_take_unheard();
}

/* One run of it. FALSE with *error; *again: it is to be run once more. */
static gboolean run(struct ew_book *book, ew_write_body body, gpointer user, gboolean *again,
                    GError **error) {
  GError *problem = NULL;
  enum ew_port_answer answer = begin(book, &problem);
  gboolean good = answer == EW_PORT_DONE && body(book, user, &problem);
  if (good && book->failed)
    good = ew_fail(&problem, "a part of the transaction failed");
  good = good && was_heard(&problem) && ew_book_commit(book, &problem);
  ew_book_rollback(book);
  *again = answer == EW_PORT_AGAIN || book->port->again;
  g_assert(good == (problem == NULL));
  if (problem)
    g_propagate_error(error, problem);
  return good;
}

static gboolean write_tries(struct ew_book *book, ew_write_body body, gpointer user, int tries,
                            GError **error) {
  g_assert(tries >= 1);
  if (book->writing)
    return join(book, body, user, error);
  g_autoptr(GError) problem = NULL;
  gboolean again = was_heard(&problem), good = FALSE;
  for (int i = 0; !good && again && i < tries; i++) {
    g_clear_error(&problem);
    forget_unheard();
    good = run(book, body, user, &again, &problem);
  }
  if (!good)
    forget_unheard(); /* it was heard now: the next change is not held back for it */
  if (problem)
    g_propagate_error(error, g_steal_pointer(&problem));
  return good;
}

gboolean ew_book_write(struct ew_book *book, ew_write_body body, gpointer user, GError **error) {
  return write_tries(book, body, user, TRIES, error);
}

gboolean ew_book_as_one(struct ew_book *book, ew_one_body body, gpointer user, GError **error) {
  return write_tries(book, body, user, 1, error);
}
