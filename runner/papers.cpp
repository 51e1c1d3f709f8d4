#include "runner/papers.hpp"

#include "runner/papers/figures_csv.hpp"
#include "runner/papers/report.hpp"

namespace afterload::runner {

tl::expected<void, std::string> write_papers(const RunDocument& run, const RunFolder& folder) {
    if (auto written = folder.write("figures.csv", figures_csv(run)); !written) {
        return written;
    }
    return folder.write("report.html", report_html(run));
}

}  // namespace afterload::runner
