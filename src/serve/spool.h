/* The body of a request while it comes in: small ones in memory, large ones in a file without a name in the book's folder, so
 * that many at once cost the disk and not the memory. One thread.
 *
 * Fair shares: those of whom a share is kept (holders; paired devices) divide what there is. Of what may come in at once, and of the disk
 * above its floor (book/room.h), each may have as much as it leaves for the others: half of what would be there without it. So
 * a holder that takes all it can leaves the next one half, whatever it sends and for how long. What is kept counts until the process
 * ends. Bodies of up to 64 kB are not weighed: a note is taken while the disk takes it. */
#pragma once
#include <glib.h>

struct ew_spool;
/* `holder` 0: this machine's person, of whom no share is kept. */
struct ew_spool *ew_spool_new(const char *folder, guint64 holder);
/* 0, or the status of the refusal with *why: 507 no room on the disk, or none of this holder's share; 503 too much is coming in
 * at once. */
guint ew_spool_add(struct ew_spool *spool, const void *data, gsize size, const char **why);
gsize ew_spool_size(const struct ew_spool *spool);
/* What came, mapped when it is in a file; ends the spool. */
GBytes *ew_spool_end(struct ew_spool *spool);
void ew_spool_free(struct ew_spool *spool); /* may be NULL */
/* So many bytes of this holder's are in the book now. */
void ew_spool_kept(guint64 holder, gsize size);
