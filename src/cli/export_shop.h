/* What `book export` writes beside recordings and curves: engine-N.yaml and shop.json. */
#pragma once
#include "book/book.h"

gboolean ew_export_engines(struct ew_book *book, const char *folder, GError **error);
gboolean ew_export_shop(struct ew_book *book, const char *folder, GError **error);
