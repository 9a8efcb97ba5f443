/* What each rate depends on: the sparsity of the Jacobian, gathered part by part. Private to model/. */
#ifndef SWH_MODEL_PARTS_PATTERN_H
#define SWH_MODEL_PARTS_PATTERN_H

#include "model/parts/parts.h"

struct pattern {
    int n;
    unsigned char *on; /* n x n, row-major */
};

static inline void couple(struct pattern *p, int row, int col)
{
    p->on[row * p->n + col] = 1;
}

static inline void couple_node(const struct swh_machine *m, struct pattern *p, int row_node, int col)
{
    couple(p, m->l.M + row_node, col);
    couple(p, m->l.U + row_node, col);
}

/* both rows of node a feel both states of node b */
static inline void couple_nodes(const struct swh_machine *m, struct pattern *p, int a, int b)
{
    couple_node(m, p, a, m->l.M + b);
    couple_node(m, p, a, m->l.U + b);
}

static inline void couple_row_to_node(const struct swh_machine *m, struct pattern *p, int row, int node)
{
    couple(p, row, m->l.M + node);
    couple(p, row, m->l.U + node);
}

/* What a row depends on: chamber, plenum, and scalars of the body as bits. */
enum { CHAMBER = 1, PLENUM = 2, GAS = 3 };
#define BIT(scalar) (1u << SWH_S_##scalar)
enum {
    OIL_FILM = BIT(rotor) | BIT(oil) | BIT(speed_ratio) | BIT(supply) | BIT(wetness),
    BLOWBY = OIL_FILM | BIT(piston) | BIT(block)
};
struct depends_on {
    int nodes;
    unsigned scalars;
};

void swh_couple_dependencies(const struct swh_machine *m, struct pattern *p, int row, struct depends_on f);

/* both nodes feel each other */
void swh_pattern_chain(const struct swh_machine *m, struct pattern *p, int a, int b);
/* a wall, the volume at it and the volume into which that flows */
void swh_pattern_wall(const struct swh_machine *m, struct pattern *p, int node, int wall, int down);

void swh_pattern_volumes(const struct swh_machine *m, struct pattern *p);
void swh_pattern_pipes(const struct swh_machine *m, struct pattern *p);
void swh_pattern_lines(const struct swh_machine *m, struct pattern *p);
void swh_pattern_vent(const struct swh_machine *m, struct pattern *p);
void swh_pattern_expansion(const struct swh_machine *m, struct pattern *p);
void swh_pattern_condenser(const struct swh_machine *m, struct pattern *p);
void swh_pattern_evaporator(const struct swh_machine *m, struct pattern *p);
void swh_pattern_cabin(const struct swh_machine *m, struct pattern *p);
void swh_pattern_compressor(const struct swh_machine *m, struct pattern *p);
void swh_pattern_film(const struct swh_machine *m, struct pattern *p);
void swh_pattern_oil(const struct swh_machine *m, struct pattern *p);
void swh_pattern_body(const struct swh_machine *m, struct pattern *p);
void swh_pattern_bay(const struct swh_machine *m, struct pattern *p);
void swh_pattern_clutch(const struct swh_machine *m, struct pattern *p);
void swh_pattern_clamps(const struct swh_machine *m, struct pattern *p);
void swh_pattern_probes(const struct swh_machine *m, struct pattern *p);
void swh_pattern_ncg(const struct swh_machine *m, struct pattern *p);

#endif
