//! How much a file may ask for. A small file can claim or unpack to far more than it is: each claim
//! is held against one of these before memory is given for it. A file that asks for more than it holds
//! is refused within 2 GiB in all; one that really holds as much as is allowed may take what it holds:
//! 4 GiB of cells, and beside them the column that is being unpacked.

/// A line of text may not be longer than this, in bytes.
pub(crate) const LONGEST_LINE: usize = 1 << 20;

/// A cell of a text table (between quotes it may hold line ends) may not be longer than this, in bytes.
pub(crate) const LONGEST_CELL: usize = 1 << 20;

/// A study file may not be longer than this, in bytes.
pub(crate) const LARGEST_STUDY: u64 = 4 << 20;

/// Rows times columns of a Parquet table: a cell takes 8 bytes (number) or 16 (text), 4 GiB in all.
pub(crate) const MOST_CELLS: u64 = 1 << 28;

/// Rows of a Parquet file that is read batch by batch: the list of its batches is kept in memory.
pub(crate) const MOST_ROWS: u64 = 1 << 40;

/// Distinct observations of Parquet that is counted as it is read: some 200 bytes each, 3.4 GB in all.
pub(crate) const MOST_DISTINCT: usize = 1 << 24;

/// The footer of a Parquet file, in bytes; its row groups and columns are kept in memory whole.
pub(crate) const LARGEST_FOOTER: u64 = 64 << 20;

/// Members of all lists of a Parquet footer (row groups, columns, names): the decoder makes room for some hundred bytes each.
pub(crate) const MOST_LISTED: usize = 1 << 21;

/// All pages of a Parquet column in one row group once unpacked, as the footer states it, in bytes.
pub(crate) const LARGEST_CHUNK: i64 = 2 << 30;

/// All parts of an XLSX workbook once unpacked, in bytes.
pub(crate) const LARGEST_WORKBOOK: u64 = 1 << 30;

/// One part of a workbook that is kept in memory whole (shared texts, styles), in bytes.
pub(crate) const LARGEST_PART: u64 = 256 << 20;

/// Cells of the rectangle that a sheet's filled cells span: 32 columns of the most rows a sheet has, 1 GiB and its texts.
pub(crate) const MOST_SHEET_CELLS: u64 = 1 << 25;
