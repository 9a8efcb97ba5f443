// The same vehicle over a range of charges, with handles that release themselves.
#include <swashheat/swashheat.h>

#include <iostream>
#include <memory>
#include <stdexcept>

struct release {
    void operator()(swh_setup *s) const { swh_setup_free(s); }
    void operator()(swh_record *r) const { swh_record_free(r); }
};
using setup = std::unique_ptr<swh_setup, release>;
using record = std::unique_ptr<swh_record, release>;

static void need(swh_status status, const swh_error &err)
{
    char text[1200];
    if (status != SWH_OK)
        throw std::runtime_error(swh_error_text(&err, text, sizeof text));
}

int main(int argc, char **argv)
try {
    swh_error err{};
    swh_setup *s = nullptr;
    need(swh_setup_load(&s, argc > 1 ? argv[1] : "", nullptr, &err), err);
    const setup van{s};
    for (const double share : {1.0, 0.7, 0.4}) {
        swh_record *r = nullptr;
        need(swh_setup_set(van.get(), "charge.fraction", share, nullptr, &err), err);
        need(swh_setup_run(van.get(), &r, &err), err);
        const record run{r};
        swh_course oil{};
        swh_record_course(run.get(), swh_channel_find("oil_temperature"), &oil);
        std::cout << "charge " << share << ": " << swh_record_outcome(run.get()) << ", oil at most " << oil.highest << " K\n";
    }
    return 0;
} catch (const std::exception &e) {
    std::cerr << e.what() << '\n';
    return 1;
}
