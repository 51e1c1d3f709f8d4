#include "runner/papers/report_style.hpp"

#include "runner/papers/html_text.hpp"

namespace afterload::runner {

namespace {

constexpr std::string_view style_sheet = R"css(
:root{color-scheme:light dark;--paper:#fff;--tint:#f5f2ec;--ink:#1c1b19;--second:#55524d;--now:#1b4f86;
--outside:#9a3a16;--hair:#d9d5cd;--rule:#1c1b19;--before:#7c7973;--was:#5d5a55}
@media screen and (prefers-color-scheme:dark){:root{--paper:#1b1a18;--tint:#262421;--ink:#e9e6df;
--second:#b3aea5;--now:#9cc3ee;--outside:#f2a07f;--hair:#45423d;--rule:#e9e6df;--before:#a5a099;--was:#b3aea5}}
*{box-sizing:border-box}
html{-webkit-text-size-adjust:100%;text-size-adjust:100%}
body{margin:0;background:var(--paper);color:var(--ink);
font:400 16px/23px system-ui,"Noto Sans","Liberation Sans","DejaVu Sans",sans-serif;
font-variant-numeric:tabular-nums lining-nums}
main{max-width:992px;margin:0 auto;padding:24px 16px 60px}
h1,h2,.statement,figcaption,.reason td{font-family:Charter,"Bitstream Charter","Charis SIL",Cambria,"Noto Serif","DejaVu Serif",serif;font-weight:400}
h1{font-size:32px;line-height:38px;margin:24px 0 6px;overflow-wrap:anywhere}
h2{font-size:24px;line-height:30px;margin:48px 0 12px}
h3{font-size:16px;line-height:22px;font-weight:600;margin:0 0 6px}
.letterhead{display:flex;justify-content:space-between;gap:12px;border-bottom:1px solid var(--rule);padding-bottom:9px;color:var(--second);font-size:14px;line-height:18px}
.sub{margin:0;color:var(--second);overflow-wrap:anywhere}
.statement{font-size:21px;line-height:30px;max-width:60ch;margin:18px 0}
.warning{border-left:3px solid var(--outside);padding-left:12px;margin:12px 0}
nav{font-size:14px;margin:18px 0}
nav ul{list-style:none;display:flex;flex-wrap:wrap;gap:6px 24px;margin:0;padding:0}
a{color:var(--now)}
.counts,.key-line{color:var(--second);font-size:14px;line-height:20px;margin:0 0 6px}
.unseen{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%);white-space:nowrap}
.narrow-only{display:none}
svg{fill:currentColor}
svg text{font-size:12px;fill:var(--second);stroke:none}
.symbols{position:absolute}
table{border-collapse:collapse;width:100%}
th{font-weight:400;text-align:left}
td,th{vertical-align:top}
.sheet{font-size:13.5px;line-height:18px;table-layout:fixed}
.sheet th,.sheet td{padding:3px 6px 0 0}
.sheet thead th{font-size:12px;line-height:15px;color:var(--second);vertical-align:bottom;padding-bottom:3px;border-bottom:1px solid var(--rule)}
.sheet thead th:nth-child(1){width:26%}.sheet thead th:nth-child(2){width:8.2%}.sheet thead th:nth-child(3){width:8.2%}
.sheet thead th:nth-child(4){width:13.5%}.sheet thead th:nth-child(5){width:12.1%}.sheet thead th:nth-child(6){width:14%}.sheet thead th:nth-child(7){width:18%}
.sheet .number{text-align:right;padding-right:9px;white-space:nowrap}
.sheet .uncertainty,.sheet .limit-cell{white-space:normal}
.sheet small{display:block;font-size:12px;line-height:15px;color:var(--second);overflow-wrap:anywhere}
.sheet .group th{font-weight:600;border-top:1px solid var(--rule);padding:6px 0 4px;overflow-wrap:anywhere}
.sheet .figure>tr:first-child>*{border-top:1px solid var(--hair);height:38px}
.sheet .group+.figure>tr:first-child>*{border-top:0}
.sheet .scale-cell{padding:0 12px 0 0}
.sheet tbody .scale-cell{height:38px}
.sheet bdi{overflow-wrap:anywhere}
tbody .scale-cell{position:relative}
.scale{position:absolute;top:0;left:0;width:calc(100% - 12px);height:100%;overflow:visible}
.scale-head{display:block;width:100%;overflow:visible}
.sheet .scale-head text{font-size:9.5px}
.verdict{padding-left:32px!important;position:relative}
.verdict .mark{position:absolute;left:0;top:7px}
.verdict.strong .word{font-weight:600}
.verdict.fail .word{font-weight:700;color:var(--outside)}
.verdict.open .word{font-style:italic}
.verdict.unscored{color:var(--second)}
.failed>tr>:first-child{position:relative}
.failed>tr>:first-child::before{content:"";position:absolute;left:-9px;top:0;bottom:0;width:3px;background:var(--outside)}
.reason td{font-style:italic;font-size:15px;line-height:20px;padding:0 0 5px 26%!important}
.key{display:inline-block;overflow:visible}
.before,.left.before,.right.before{color:var(--before)}
.joined{stroke:var(--before);stroke-width:1;fill:none}
.first{table-layout:fixed;margin:12px 0 6px}
.first th,.first td{padding:5px 12px 5px 0}
.first thead th{font-size:12px;line-height:16px;color:var(--second);vertical-align:bottom;border-bottom:1px solid var(--rule)}
.first thead th:nth-child(1){width:28%}.first thead th:nth-child(2),.first thead th:nth-child(3){width:13%}
.first thead th:nth-child(4){width:16.5%}.first thead th:nth-child(5){width:14%}.first thead th:nth-child(6){width:15.5%}
.first tbody th,.first tbody td{border-top:1px solid var(--hair);height:51px}
.first tbody tr:first-child>*{border-top:0}
.first .number{text-align:right;white-space:nowrap}
.first .was{color:var(--was);white-space:normal}.first .now{font-weight:600}
.first small{display:block;font-size:12px;line-height:16px;color:var(--second);overflow-wrap:anywhere}
.first .scale-cell{padding:0 12px 0 0}
.first .scale-head text{font-size:9.5px}
.first .fail .word{font-weight:700;color:var(--outside)}
.first .failed-row>:first-child{position:relative}
.first .failed-row>:first-child::before{content:"";position:absolute;left:-9px;top:0;bottom:0;width:3px;background:var(--outside)}
sup{font-size:.7em;line-height:0}
.remark{font-size:15px;line-height:21px;margin:6px 0;overflow-wrap:anywhere}
.tint{fill:var(--tint)}
.hair{stroke:var(--hair);stroke-width:1;fill:none}
.limit{stroke:var(--ink);stroke-width:1.2;fill:none}
.dotted{stroke-dasharray:1.5 2.5}
.left,.right{color:var(--now)}
td.left,td.right,td.number{color:inherit}
.filled{fill:currentColor;stroke:none}
.hollow{fill:var(--paper);stroke:currentColor;stroke-width:1.4}
.stroke{fill:none;stroke:currentColor;stroke-width:1.4}
.bar{fill:currentColor;fill-opacity:.38}
.scale line.left,.scale line.right{stroke:currentColor;stroke-width:1}
.hatched{fill:url(#hatch);stroke:var(--now);stroke-width:1}
.hatch-line{stroke:var(--now);stroke-width:1}
.mark-bar{fill:currentColor;fill-opacity:.42}
.mark-box{fill:url(#hatch);stroke:currentColor;stroke-width:1}
.ink{fill:var(--ink)}
.plots{display:grid;grid-template-columns:1fr 1fr;gap:36px 32px}
figure{margin:0;min-width:0}
figure.full{grid-column:1/-1}
figcaption{font-style:italic;font-size:15px;line-height:21px;margin:6px 0;max-width:80ch}
.plate{--before:#7c7973;--ink:#1c1b19;--second:#55524d;--now:#1b4f86;--hair:#d9d5cd;--paper:#fff;color:#1c1b19}
@media screen and (prefers-color-scheme:dark){.plate{--paper:#ece8e0;background:#ece8e0;padding:6px}}
.plot{display:block;width:100%;height:auto}
.plot text{paint-order:stroke;stroke:var(--paper);stroke-width:3px;stroke-linejoin:round;fill:var(--second)}
.plot text.ink{fill:var(--ink)}
.plot text.left,.plot text.right{fill:var(--now)}.plot text.before{fill:#5d5a55}
.plot.narrow{display:none}
.grid{stroke:#d9d5cd;stroke-width:1}.minor{stroke:#eceae5;stroke-width:1}
.axis{stroke:#1c1b19;stroke-width:1}
.curve{fill:none;stroke:currentColor;stroke-width:1.7;stroke-linejoin:round}
.curve.right{stroke-dasharray:4 2.5;stroke-width:1.4}
.curve.plain{stroke-dasharray:none}
.stem{stroke:currentColor;stroke-width:2}.stem.right{stroke-dasharray:4 2.5}
.noise{fill:none;stroke:#7c7973;stroke-width:1.2}
.ring{fill:none;stroke:#1b4f86;stroke-width:1.4}
.forbidden{fill:url(#forbidden)}
.forbidden-line{stroke:#7f7b75;stroke-width:1}
.floor{fill:url(#dots)}
.dot{fill:#7c7973}
details{font-size:13.5px;margin-top:6px}
summary{cursor:pointer;color:var(--second)}
.numbers{width:auto;margin:6px 0}
.numbers caption{text-align:left;color:var(--second);padding-bottom:3px}
.numbers th,.numbers td{padding:1px 18px 1px 0;border-bottom:1px solid var(--hair);text-align:right;white-space:nowrap}
.numbers th:first-child{text-align:left}
.facts,.list{font-size:13.5px;line-height:18px;margin:0 0 24px}
.facts caption,.list caption{text-align:left;font-weight:600;padding-bottom:6px;border-bottom:1px solid var(--rule)}
.facts th,.facts td,.list th,.list td{padding:4px 12px 4px 0;border-bottom:1px solid var(--hair);overflow-wrap:break-word}
.facts td,.files th{overflow-wrap:anywhere}
.list .word{white-space:nowrap}
.facts th{width:30%;color:var(--second)}
.list thead th{font-size:12px;color:var(--second);vertical-align:bottom}
.hash{font:11px/15px "DejaVu Sans Mono","Liberation Mono",monospace;overflow-wrap:anywhere}
.rule{max-width:80ch}
ul{padding-left:20px}
@media (max-width:640px){
main{padding:16px 16px 40px}
body{font-size:15px;line-height:21px}
h1{font-size:25px;line-height:29px}h2{font-size:20px;line-height:26px;margin-top:36px}
.statement{font-size:18px;line-height:25px}
.plots{grid-template-columns:minmax(0,1fr)}
.plot.wide{display:none}.plot.narrow{display:block}
.first,.first tbody{display:block}
.first thead{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}
.first tbody tr{display:grid;grid-template-columns:repeat(2,minmax(0,1fr));gap:2px 12px;border-top:1px solid var(--hair);padding:9px 0}
.first tbody tr:first-child{border-top:1px solid var(--rule)}
.first tbody tr>*{border:0!important;height:auto!important;padding:0!important;text-align:left!important}
.first tbody th{grid-column:1}.first .word-cell{grid-column:2;grid-row:1}
.first .was,.first .now{grid-row:2}.first .was{grid-column:1}.first .now{grid-column:2}
.first .narrow-only{display:block;font-weight:400}
.first .limit-cell{grid-column:1/-1}.first .limit-cell::before{content:"rated "}
.first .scale-cell{grid-column:1/-1;padding:3px 0 0!important}
.first .scale{height:27px}
.sheet,.sheet tbody{display:block}
.sheet thead{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}
.sheet tr{display:block}
.sheet .group tr{padding:18px 0 6px}
.sheet .group th{display:block;font-size:15px;line-height:20px}
.sheet .figure{border-top:1px solid var(--hair);padding:9px 0}
.sheet .figure>tr:first-child{display:grid;grid-template-columns:repeat(3,minmax(0,1fr));gap:2px 12px;font-size:14px;line-height:19px}
.sheet .figure>tr:first-child>*{border:0!important;height:auto;padding:0;text-align:left}
.sheet .figure>tr:first-child>th{grid-column:1/-1;order:1;font-size:15px;line-height:20px;padding-right:0}
.sheet .verdict{grid-column:1/-1;order:2;min-height:20px}
.sheet .verdict small{display:inline;margin-left:9px;font-size:12.5px}
.sheet .verdict .mark{top:4px}
.sheet td.number{order:3}.sheet .uncertainty{order:4}.sheet .limit-cell{order:5;grid-column:1/-1}
.sheet .limit-cell::before{content:"limit "}
.sheet .limit-cell small{display:inline;margin-left:6px}
.sheet .scale-cell{order:6;grid-column:1/-1;padding:3px 0 0!important}
.sheet tbody .scale-cell{height:auto}
.scale{position:static;display:block;width:100%;height:33px}
.plot.half text{font-size:14px}
.narrow-only{display:inline;color:var(--second);font-size:12.5px}
.reason td{display:block;padding:3px 0 0!important}
.failed>tr>:first-child::before{left:-10px}
.list thead{display:none}
.list,.list caption,.list tbody,.list tr,.list th,.list td{display:block;width:auto;overflow-wrap:anywhere}
.list tr{border-bottom:1px solid var(--hair);padding:6px 0}
.list th,.list td{border:0;padding:0}
.list td::before{content:attr(data-head) ": ";color:var(--second);font-family:system-ui,"Noto Sans",sans-serif;font-size:12.5px}
}
@media print{
@page{margin:12mm 16mm 15mm;@bottom-left{content:FOOT;font:7pt system-ui,"Noto Sans",sans-serif;color:#55524d}
@bottom-right{content:counter(page) " of " counter(pages);font:7pt system-ui,"Noto Sans",sans-serif;color:#55524d}}
html{font-size:9.2pt}
body{font-size:9.2pt;line-height:12.8pt}
main{max-width:none;padding:0}
nav,details{display:none}
a{color:inherit;text-decoration:none}
h1{font-size:21pt;line-height:25pt;margin:12pt 0 4pt}
h2{font-size:14pt;line-height:18pt;margin:18pt 0 6pt;break-after:avoid}
h3{font-size:9.2pt;line-height:12pt}
.letterhead{font-size:8pt}
.statement{font-size:13pt;line-height:19pt;margin:9pt 0}
.counts,.key-line{font-size:7.5pt;line-height:10pt}
.first{font-size:9.2pt;line-height:12.8pt}
.first thead th,.first small{font-size:7pt;line-height:8.6pt}
.first tbody th,.first tbody td{height:12mm}
.first tbody tr{break-inside:avoid}
.sheet{font-size:8pt;line-height:10.2pt}
.sheet thead{display:table-header-group}
.sheet thead th,.sheet small{font-size:7pt;line-height:8.6pt}
.sheet .figure>tr:first-child>*,.sheet tbody .scale-cell{height:8.8mm}
.scale-head .near{display:none}
.first~section[aria-labelledby="figures"]{break-before:page}
.sheet tbody{break-inside:avoid}
.sheet .group{break-after:avoid}
.reason td{font-size:8.2pt;line-height:10.4pt}
figure{break-inside:avoid}
figcaption{font-size:8.8pt;line-height:11.8pt}
.plots{gap:14pt 16pt}
.facts,.list{font-size:7.6pt;line-height:9.8pt;margin-bottom:12pt}
.facts tr,.list tr{break-inside:avoid}
.facts th,.facts td,.list th,.list td{padding:2pt 8pt 2pt 0}
.list thead th{font-size:7pt}
.hash{font-size:6pt;line-height:8pt}
}
@media (forced-colors:active){svg,.left,.right{color:CanvasText;forced-color-adjust:none}.ink,.filled{fill:CanvasText}}
)css";

}  // namespace

std::string report_style(std::string_view foot) {
    std::string style{style_sheet};
    constexpr std::string_view place = "FOOT";
    const std::size_t at = style.find(place);
    return style.replace(at, place.size(), css_string(foot));
}

}  // namespace afterload::runner
