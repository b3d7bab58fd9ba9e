/* What a book is made of, for book.c and write.c. */
#pragma once
#include "book/port.h"

struct ew_book {
  struct ew_port *port;
  char *path;
  gboolean read_only; /* its file or disk can't be written */
  gboolean writing;   /* a transaction is open */
  gboolean failed;    /* a part of it failed: it can only be rolled back */
};
