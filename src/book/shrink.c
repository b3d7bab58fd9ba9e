/* The store writes a whole new file beside and puts it in place page by page, through its log: a cut leaves the one or the other. */
#include "book/shrink.h"
#include "base/error.h"
#include "book/book_inside.h"
#include "book/room.h"
#include "book/sql.h"

gboolean ew_book_spare(struct ew_book *book, gint64 *bytes, GError **error) {
  const struct ew_port_class *class = book->port->class;
  *bytes = class->spare ? class->spare(book->port, error) : 0;
  return *bytes >= 0;
}

gint64 ew_book_size(struct ew_book *book, GError **error) {
  return book->port->class->size(book->port, error);
}

gboolean ew_book_shrink(struct ew_book *book, GError **error) {
  const struct ew_port_class *class = book->port->class;
  gint64 size = ew_book_size(book, error), spare, id;
  g_assert(!book->writing);
  if (size < 0 || !ew_book_spare(book, &spare, error) ||
      !ew_sql_number(book->port, &id, error,
                     "SELECT coalesce(min(recording_id), 0) FROM stream WHERE ended_at IS NULL",
                     ""))
    return FALSE;
  if (book->reads || book->read_only || !class->shrink)
    return ew_refuse(error, "this book can only be read: its file stays as large as it is");
  if (id)
    return ew_refuse(error,
                     "live recording %" G_GINT64_FORMAT
                     " is under way, or its recorder died: the file is not made smaller meanwhile",
                     id);
  /* what is left, once in a file of its own and once in the log */
  return ew_room_for(book->path, 2 * (guint64)(size - spare), error) &&
         class->shrink(book->port, error) && class->checkpoint(book->port, TRUE, error);
}
