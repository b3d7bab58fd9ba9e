/* Exact solution of the Riemann problem for a perfect gas: Toro, Riemann Solvers and Numerical Methods
 * for Fluid Dynamics, 3rd ed., chapter 4. */
#pragma once
#include <math.h>

struct riemann_state {
  double rho, u, p;
};

struct riemann {
  struct riemann_state l, r;
  double gamma, p, u; /* star values */
};

static inline double riemann_side(const struct riemann_state *k, double g, double p) {
  double a = 2 / ((g + 1) * k->rho), b = (g - 1) / (g + 1) * k->p, c = sqrt(g * k->p / k->rho);
  return p > k->p ? (p - k->p) * sqrt(a / (p + b))
                  : 2 * c / (g - 1) * (pow(p / k->p, (g - 1) / (2 * g)) - 1);
}

static inline struct riemann riemann_solve(struct riemann_state l, struct riemann_state r,
                                           double g) {
  double low = 1e-12, high = 1e7;
  for (int i = 0; i < 200; i++) {
    double p = sqrt(low * high);
    if (riemann_side(&l, g, p) + riemann_side(&r, g, p) + r.u - l.u > 0)
      high = p;
    else
      low = p;
  }
  double p = sqrt(low * high);
  return (struct riemann){l, r, g, p,
                          (l.u + r.u + riemann_side(&r, g, p) - riemann_side(&l, g, p)) / 2};
}

/* One side of the contact, seen as the left side; s = x/t. */
static inline struct riemann_state riemann_left(const struct riemann_state *k, double g, double p,
                                                double u, double s) {
  double c = sqrt(g * k->p / k->rho), ratio = p / k->p, m = (g - 1) / (g + 1);
  if (p > k->p) {
    double shock = k->u - c * sqrt((g + 1) / (2 * g) * ratio + (g - 1) / (2 * g));
    struct riemann_state star = {k->rho * (ratio + m) / (m * ratio + 1), u, p};
    return s < shock ? *k : star;
  }
  double head = k->u - c, tail = u - c * pow(ratio, (g - 1) / (2 * g));
  if (s < head)
    return *k;
  if (s > tail)
    return (struct riemann_state){k->rho * pow(ratio, 1 / g), u, p};
  double f = 2 / (g + 1) + m / c * (k->u - s);
  return (struct riemann_state){k->rho * pow(f, 2 / (g - 1)),
                                2 / (g + 1) * (c + (g - 1) / 2 * k->u + s),
                                k->p * pow(f, 2 * g / (g - 1))};
}

static inline struct riemann_state riemann_at(const struct riemann *x, double s) {
  if (s <= x->u)
    return riemann_left(&x->l, x->gamma, x->p, x->u, s);
  struct riemann_state mirror = {x->r.rho, -x->r.u, x->r.p};
  struct riemann_state w = riemann_left(&mirror, x->gamma, x->p, -x->u, -s);
  w.u = -w.u;
  return w;
}
