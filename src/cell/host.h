/* HOST:PORT as addresses: a name may have several, in the system's order. */
#pragma once
#include <glib.h>
#include <sys/socket.h>

#define EW_HOST_MOST 8u

struct ew_host {
  guint count;
  struct ew_host_address {
    struct sockaddr_storage address;
    socklen_t size;
  } at[EW_HOST_MOST];
};

/* `text`: "HOST:PORT", "[IPv6]:PORT", with "//" before it and "?..." behind it or without. `type`:
 * SOCK_STREAM or SOCK_DGRAM. Looks the name up, and waits for it. */
gboolean ew_host_find(const char *text, int type, struct ew_host *host, GError **error);
gboolean ew_host_same(const struct ew_host_address *a, const struct ew_host_address *b,
                      gboolean port_too);
char *ew_host_text(const struct ew_host_address *address); /* "192.0.2.7:5000" */
