#include "model/tables/tables.h"
#include "solver/simulate/key.h"

#include <stdio.h>
#include <swashheat/names.h>

size_t swh_key_count(void)
{
    return SWH_PARAM_COUNT + SWH_INPUT_COUNT + SWH_FAULT_COUNT;
}

static void describe_param(int i, struct swh_key_entry *entry)
{
    const struct swh_param_info *p = &swh_param_table[i];
    *entry = (struct swh_key_entry){.unit = swh_quantities[p->quantity].si,
                                    .help = p->help,
                                    .source = p->source,
                                    .lowest = p->lo,
                                    .highest = p->hi,
                                    .usual = p->value};
    snprintf(entry->name, sizeof entry->name, "%s", p->name);
}

static void describe_input(int i, struct swh_key_entry *entry)
{
    const struct swh_input_info *in = &swh_input_table[i];
    *entry = (struct swh_key_entry){.unit = swh_quantities[in->quantity].si,
                                    .help = in->help,
                                    .source = "",
                                    .lowest = in->lo,
                                    .highest = in->hi,
                                    .usual = in->value};
    snprintf(entry->name, sizeof entry->name, "conditions.%s", in->id);
}

static void describe_fault(int i, struct swh_key_entry *entry)
{
    struct swh_key key;
    swh_key_of_fault((enum swh_fault)i, &key);
    *entry = (struct swh_key_entry){.unit = "1",
                                    .help = swh_fault_table[i].severity,
                                    .source = "",
                                    .lowest = key.lo,
                                    .highest = key.hi,
                                    .usual = 0};
    snprintf(entry->name, sizeof entry->name, "%s", key.name);
}

int swh_key_describe(size_t index, struct swh_key_entry *entry)
{
    if (index >= swh_key_count())
        return -1;
    const int i = (int)index;
    if (i < SWH_PARAM_COUNT)
        describe_param(i, entry);
    else if (i < SWH_PARAM_COUNT + SWH_INPUT_COUNT)
        describe_input(i - SWH_PARAM_COUNT, entry);
    else
        describe_fault(i - SWH_PARAM_COUNT - SWH_INPUT_COUNT, entry);
    return 0;
}

size_t swh_channel_count(void)
{
    return SWH_CHANNEL_COUNT;
}

int swh_channel_describe(size_t index, struct swh_channel_entry *entry)
{
    if (index >= SWH_CHANNEL_COUNT)
        return -1;
    const struct swh_channel_info *c = &swh_channel_table[index];
    *entry = (struct swh_channel_entry){.name = c->id,
                                        .unit = swh_quantities[c->quantity].si,
                                        .help = c->help,
                                        .lowest = c->lo,
                                        .highest = c->hi,
                                        .measured = c->group == SWH_GROUP_READING};
    return 0;
}
