/* Whose request is next: peers take turns, so that one that asks sixty things at once waits for its own sixty
 * and others wait for one of them. A start-time fair queue: a request's ticket is one more than the later of
 * its peer's last ticket and the one in service, and the lowest ticket goes first.
 * (Common practice of packet schedulers; written from memory, no source at hand.) */
#pragma once
#include <glib.h>

struct ew_fair; /* opaque; of one thread */
struct ew_fair *ew_fair_new(void);
void ew_fair_free(struct ew_fair *fair);
/* A ticket for a request of this peer (a device, or whoever comes from an address). */
guint64 ew_fair_ticket(struct ew_fair *fair, guint64 peer);
/* This ticket's request was served. */
void ew_fair_served(struct ew_fair *fair, guint64 ticket);
