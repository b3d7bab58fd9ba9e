/* HOST:PORT by the system's resolver, IPv6 in brackets. It may wait for a name server, so it is called before a
 * session starts or from a source's own thread. */
#include "cell/host.h"
#include "base/error.h"
#include <netdb.h>
#include <netinet/in.h>
#include <string.h>

gboolean ew_host_find(const char *text, int type, struct ew_host *host, GError **error) {
  g_auto(GStrv) parts = g_strsplit(g_str_has_prefix(text, "//") ? text + 2 : text, "?", 2);
  const char *rest = parts[0] ? parts[0] : "", *colon = strrchr(rest, ':');
  if (!colon || colon == rest || !colon[1])
    return ew_refuse(error, "write //HOST:PORT");
  g_autofree char *name = g_strndup(rest, (gsize)(colon - rest));
  if (name[0] == '[' && g_str_has_suffix(name, "]")) {
    memmove(name, name + 1, strlen(name));
    name[strlen(name) - 1] = 0;
  }
  struct addrinfo hints = {.ai_socktype = type, .ai_flags = AI_NUMERICSERV}, *found = NULL;
  int problem = getaddrinfo(name, colon + 1, &hints, &found);
  if (problem == EAI_NONAME)
    return ew_refuse(
        error,
        "%s: no host of that name is known; see how it is spelt, or write its address in "
        "figures",
        rest);
  if (problem == EAI_AGAIN)
    return ew_refuse(error,
                     "%s: the name could not be looked up now; see to the network, or write its "
                     "address in figures",
                     rest);
  if (problem)
    return ew_refuse(error, "%s: %s", rest, gai_strerror(problem));
  host->count = 0;
  for (const struct addrinfo *a = found; a && host->count < EW_HOST_MOST; a = a->ai_next) {
    memcpy(&host->at[host->count].address, a->ai_addr, a->ai_addrlen);
    host->at[host->count++].size = a->ai_addrlen;
  }
  freeaddrinfo(found);
  g_assert(host->count <= EW_HOST_MOST);
  return TRUE;
}

gboolean ew_host_same(const struct ew_host_address *a, const struct ew_host_address *b,
                      gboolean port_too) {
  if (a->address.ss_family != b->address.ss_family)
    return FALSE;
  if (a->address.ss_family == AF_INET) {
    const struct sockaddr_in *x = (const void *)&a->address, *y = (const void *)&b->address;
    return x->sin_addr.s_addr == y->sin_addr.s_addr && (!port_too || x->sin_port == y->sin_port);
  }
  const struct sockaddr_in6 *x = (const void *)&a->address, *y = (const void *)&b->address;
  return memcmp(&x->sin6_addr, &y->sin6_addr, sizeof x->sin6_addr) == 0 &&
         (!port_too || x->sin6_port == y->sin6_port);
}

char *ew_host_text(const struct ew_host_address *at) {
  char name[64] = "?", port[16] = "?";
  getnameinfo((const struct sockaddr *)&at->address, at->size, name, sizeof name, port, sizeof port,
              NI_NUMERICHOST | NI_NUMERICSERV);
  return g_strdup_printf("%s:%s", name, port);
}
