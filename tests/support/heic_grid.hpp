#pragma once
// A HEIC file as phones write it: the picture cut into HEVC tiles that a `grid` item puts together again (ISO/IEC
// 23008-12, 6.6.2.3), turned by an `irot` property. The tiles come from libheif; the container around them is written
// here, because libheif 1.15 writes no grids.

#include <cstdint>
#include <cstring>
#include <map>
#include <opencv2/core.hpp>
#include <optional>
#include <stdexcept>
#include <string>
#include <vector>

#include "support/photo_files.hpp"

namespace lotwear::test {

namespace heic {

inline void put(FileBytes& to, std::uint64_t value, int bytes) {
  for (int shift = 8 * (bytes - 1); shift >= 0; shift -= 8)
    to.push_back(static_cast<std::uint8_t>(value >> shift));
}
inline void put(FileBytes& to, const FileBytes& bytes) { to.insert(to.end(), bytes.begin(), bytes.end()); }
inline void put(FileBytes& to, const char* four) { to.insert(to.end(), four, four + 4); }

inline FileBytes box(const char* type, const FileBytes& content) {
  FileBytes out;
  put(out, content.size() + 8, 4);
  put(out, type);
  put(out, content);
  return out;
}
inline FileBytes full_box(const char* type, int version, int flags, const FileBytes& content) {
  FileBytes inside;
  put(inside, static_cast<std::uint64_t>(version) << 24 | static_cast<std::uint64_t>(flags), 4);
  put(inside, content);
  return box(type, inside);
}

inline std::uint64_t number(const FileBytes& bytes, std::size_t at, int count) {
  std::uint64_t value = 0;
  for (int i = 0; i < count; ++i)
    value = value << 8 | bytes.at(at + static_cast<std::size_t>(i));
  return value;
}

/// The content of the first box of that type between two places.
struct Found {
  std::size_t begin = 0, end = 0;
};
inline Found find(const FileBytes& file, const char* type, std::size_t begin, std::size_t end) {
  for (std::size_t at = begin; at + 8 <= end;) {
    const std::size_t size = number(file, at, 4);
    if (size < 8) break;
    if (std::memcmp(file.data() + at + 4, type, 4) == 0) return {at + 8, at + size};
    at += size;
  }
  throw std::runtime_error(std::string("libheif wrote no box ") + type);
}

struct Tile {
  FileBytes hvcc, data;
};
inline Tile tile_of(const FileBytes& file) {
  const Found meta = find(file, "meta", 0, file.size());
  const Found iprp = find(file, "iprp", meta.begin + 4, meta.end);
  const Found ipco = find(file, "ipco", iprp.begin, iprp.end);
  const Found hvcc = find(file, "hvcC", ipco.begin, ipco.end);
  const Found mdat = find(file, "mdat", 0, file.size());
  return {FileBytes(file.begin() + static_cast<std::ptrdiff_t>(hvcc.begin),
                    file.begin() + static_cast<std::ptrdiff_t>(hvcc.end)),
          FileBytes(file.begin() + static_cast<std::ptrdiff_t>(mdat.begin),
                    file.begin() + static_cast<std::ptrdiff_t>(mdat.end))};
}

}  // namespace heic

/// `quarter_turns`: anti-clockwise, applied by whoever shows the picture. Nothing when this libheif cannot encode HEVC.
inline std::optional<FileBytes> heic_grid_bytes(const cv::Mat& rgb, int tile_side, int quarter_turns,
                                                const FileDetails& details = {}) {
  using namespace heic;
  const int across = (rgb.cols + tile_side - 1) / tile_side, down = (rgb.rows + tile_side - 1) / tile_side;
  std::vector<Tile> tiles;
  for (int i = 0; i < across * down; ++i) {
    const cv::Rect place(i % across * tile_side, i / across * tile_side, tile_side, tile_side);
    cv::Mat tile(tile_side, tile_side, CV_8UC3, cv::Scalar::all(0));
    const cv::Rect inside = place & cv::Rect({}, rgb.size());
    rgb(inside).copyTo(tile(cv::Rect({}, inside.size())));
    const auto file = heic_bytes(tile, {}, 95);
    if (!file) return std::nullopt;
    tiles.push_back(tile_of(*file));
    if (tiles.back().hvcc != tiles.front().hvcc) throw std::runtime_error("tiles differ in their parameter sets");
  }
  const int count = static_cast<int>(tiles.size()), grid = count + 1, exif = count + 2;

  FileBytes hdlr(4, 0);
  put(hdlr, "pict");
  hdlr.resize(hdlr.size() + 13, 0);
  FileBytes pitm;
  put(pitm, static_cast<std::uint64_t>(grid), 2);

  FileBytes iinf;
  put(iinf, static_cast<std::uint64_t>(details.exif.empty() ? grid : exif), 2);
  const auto infe = [&](int id, const char* type, int hidden) {
    FileBytes entry;
    put(entry, static_cast<std::uint64_t>(id), 2);
    put(entry, 0, 2);
    put(entry, type);
    put(entry, 0, 1);
    put(iinf, full_box("infe", 2, hidden, entry));
  };
  for (int id = 1; id <= count; ++id)
    infe(id, "hvc1", 1);
  infe(grid, "grid", 0);
  if (!details.exif.empty()) infe(exif, "Exif", 1);

  FileBytes dimg;
  put(dimg, static_cast<std::uint64_t>(grid), 2);
  put(dimg, static_cast<std::uint64_t>(count), 2);
  for (int id = 1; id <= count; ++id)
    put(dimg, static_cast<std::uint64_t>(id), 2);
  FileBytes iref = box("dimg", dimg);
  if (!details.exif.empty()) {
    FileBytes cdsc;
    put(cdsc, static_cast<std::uint64_t>(exif), 2);
    put(cdsc, 1, 2);
    put(cdsc, static_cast<std::uint64_t>(grid), 2);
    put(iref, box("cdsc", cdsc));
  }

  const auto ispe = [](int width, int height) {
    FileBytes size;
    put(size, static_cast<std::uint64_t>(width), 4);
    put(size, static_cast<std::uint64_t>(height), 4);
    return full_box("ispe", 0, 0, size);
  };
  FileBytes ipco = box("hvcC", tiles.front().hvcc);                        // 1
  put(ipco, ispe(tile_side, tile_side));                                   // 2
  put(ipco, ispe(rgb.cols, rgb.rows));                                     // 3
  put(ipco, box("irot", {static_cast<std::uint8_t>(quarter_turns & 3)}));  // 4
  if (!details.icc.empty()) {                                              // 5
    FileBytes colr = {'p', 'r', 'o', 'f'};
    put(colr, details.icc);
    put(ipco, box("colr", colr));
  }
  FileBytes ipma;
  put(ipma, static_cast<std::uint64_t>(grid), 4);
  for (int id = 1; id <= count; ++id) {
    put(ipma, static_cast<std::uint64_t>(id), 2);
    put(ipma, {2, 0x81, 2});
  }
  put(ipma, static_cast<std::uint64_t>(grid), 2);
  if (details.icc.empty()) {
    put(ipma, {2, 3, 0x84});
  } else {
    put(ipma, {3, 3, 5, 0x84});
  }
  FileBytes iprp = box("ipco", ipco);
  put(iprp, full_box("ipma", 0, 0, ipma));

  FileBytes idat = {0, 0, static_cast<std::uint8_t>(down - 1), static_cast<std::uint8_t>(across - 1)};
  put(idat, static_cast<std::uint64_t>(rgb.cols), 2);
  put(idat, static_cast<std::uint64_t>(rgb.rows), 2);

  FileBytes exif_item;
  if (!details.exif.empty()) {
    put(exif_item, 0, 4);
    put(exif_item, details.exif);
  }
  // Offsets of the data depend on the size of the meta box, which does not depend on them: written twice.
  FileBytes file;
  std::size_t data_at = 0;
  for (int pass = 0; pass < 2; ++pass) {
    FileBytes iloc = {0x44, 0x00};
    put(iloc, static_cast<std::uint64_t>(details.exif.empty() ? grid : exif), 2);
    std::size_t at = data_at;
    const auto locate = [&](int id, int method, std::size_t offset, std::size_t length) {
      put(iloc, static_cast<std::uint64_t>(id), 2);
      put(iloc, static_cast<std::uint64_t>(method), 2);
      put(iloc, 0, 2);
      put(iloc, 1, 2);
      put(iloc, offset, 4);
      put(iloc, length, 4);
    };
    for (int i = 0; i < count; ++i) {
      locate(i + 1, 0, at, tiles[static_cast<std::size_t>(i)].data.size());
      at += tiles[static_cast<std::size_t>(i)].data.size();
    }
    locate(grid, 1, 0, idat.size());
    if (!details.exif.empty()) locate(exif, 0, at, exif_item.size());

    FileBytes meta = full_box("hdlr", 0, 0, hdlr);
    put(meta, full_box("pitm", 0, 0, pitm));
    put(meta, full_box("iloc", 1, 0, iloc));
    put(meta, full_box("iinf", 0, 0, iinf));
    put(meta, full_box("iref", 0, 0, iref));
    put(meta, box("iprp", iprp));
    put(meta, box("idat", idat));
    FileBytes brands;
    put(brands, "heic");
    put(brands, 0, 4);
    put(brands, "mif1");
    put(brands, "heic");
    file = box("ftyp", brands);
    put(file, full_box("meta", 0, 0, meta));
    data_at = file.size() + 8;
  }
  FileBytes data;
  for (const Tile& tile : tiles)
    put(data, tile.data);
  put(data, exif_item);
  put(file, box("mdat", data));
  return file;
}

}  // namespace lotwear::test
