#include <swashheat/commit.h>
#include <swashheat/version.h>

const char *swh_version(void)
{
    return SWH_VERSION;
}

const char *swh_commit(void)
{
    return SWH_COMMIT;
}
