/* The body of a request while it comes in: small ones in memory, large ones in a file without a name in the book's folder, so
 * that many at once cost the disk and not the memory. All spools of the process together have a limit. One thread. */
#pragma once
#include <glib.h>

struct ew_spool;
struct ew_spool *ew_spool_new(const char *folder);
/* 0, or the status of the refusal with *why: 507 no room on the disk, 503 too much is coming in at once. */
guint ew_spool_add(struct ew_spool *spool, const void *data, gsize size, const char **why);
gsize ew_spool_size(const struct ew_spool *spool);
/* What came, mapped when it is in a file; ends the spool. */
GBytes *ew_spool_end(struct ew_spool *spool);
void ew_spool_free(struct ew_spool *spool); /* may be NULL */
