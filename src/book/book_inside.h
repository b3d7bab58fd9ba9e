/* What a book is made of, for book.c and write.c. */
#pragma once
#include "book/port.h"

struct ew_book {
  struct ew_port *port;
  char *path;
  gboolean read_only; /* its file or disk can't be written */
  gboolean reads;     /* it is a copy of what a shop holds (ship.h): nothing is changed in it */
  gboolean writing;   /* a transaction is open */
  gboolean failed;    /* a part of it failed: it can only be rolled back */
  char *cell,
      *writer; /* names of the cell and of this copy (origin.h); NULL: not read yet, or rolled back */
  char *zone_name; /* of `zone`, as the setting had it */
  GTimeZone *zone;
};
