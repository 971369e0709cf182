//! Parquet, the format of tables that engines share (Apache Parquet format specification 2, published).
//!
//! Rows go out in groups, so that memory does not grow with their number; what comes in is one column
//! of texts, piece by piece.

use super::error::name;
use super::{Cell, Error, Reader};
use parquet::basic::{Compression, LogicalType, Repetition, Type as Physical, ZstdLevel};
use parquet::column::reader::get_typed_column_reader;
use parquet::data_type::{ByteArray, ByteArrayType, DataType, DoubleType, Int64Type};
use parquet::errors::{ParquetError, Result as Outcome};
use parquet::file::properties::WriterProperties;
use parquet::file::reader::{FileReader, SerializedFileReader};
use parquet::file::writer::{SerializedFileWriter, SerializedRowGroupWriter};
use parquet::schema::types::Type;
use std::cell::RefCell;
use std::fs::File;
use std::io::{self, BufRead, BufReader, BufWriter, Read, Seek, SeekFrom, Write};
use std::path::Path;
use std::sync::Arc;

/// Rows of a group (chosen: a few MiB of findings).
const GROUP: usize = 1 << 15;

/// Texts that are read at a time (chosen: lines of an audit are some 10 KB).
const AT_ONCE: usize = 256;

/// What every cell of a column is, but for those that hold nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Kind {
    /// No cell holds anything so far.
    #[default]
    Nothing,
    /// Whole numbers.
    Whole,
    /// Numbers.
    Real,
    /// Texts; what else there is is written as text.
    Text,
}

impl Kind {
    /// The kind that holds what was held so far, and this cell.
    const fn with(self, cell: &Cell) -> Self {
        match (self, cell) {
            (kind, Cell::Null) => kind,
            (Self::Nothing | Self::Whole, Cell::Whole(_)) => Self::Whole,
            (Self::Nothing | Self::Whole | Self::Real, Cell::Real(_))
            | (Self::Real, Cell::Whole(_)) => Self::Real,
            _ => Self::Text,
        }
    }

    fn column(self, name: &str) -> Outcome<Type> {
        let (physical, logical) = match self {
            Self::Whole => (Physical::INT64, None),
            Self::Real => (Physical::DOUBLE, None),
            Self::Nothing | Self::Text => (Physical::BYTE_ARRAY, Some(LogicalType::String)),
        };
        Type::primitive_type_builder(name, physical)
            .with_repetition(Repetition::OPTIONAL)
            .with_logical_type(logical)
            .build()
    }
}

/// A table on its way out.
struct Table<W: Write + Send> {
    writer: SerializedFileWriter<W>,
    kinds: Vec<Kind>,
    /// Rows that are not written yet.
    rows: Vec<Vec<Cell>>,
}

impl<W: Write + Send> Table<W> {
    /// A table with these columns.
    fn begin(out: W, columns: &[(String, Kind)]) -> Outcome<Self> {
        let mut fields: Vec<Arc<Type>> = Vec::new();
        for (name, kind) in columns {
            // Two of one name are two columns all the same.
            let mut unlike = name.clone();
            let mut number = 1;
            while fields.iter().any(|field| field.name() == unlike) {
                number += 1;
                unlike = format!("{name}:{number}");
            }
            fields.push(Arc::new(kind.column(&unlike)?));
        }
        let schema = Type::group_type_builder("rows")
            .with_fields(fields)
            .build()?;
        let packed = Compression::ZSTD(ZstdLevel::default());
        let properties = WriterProperties::builder().set_compression(packed).build();
        Ok(Self {
            writer: SerializedFileWriter::new(out, Arc::new(schema), Arc::new(properties))?,
            kinds: columns.iter().map(|(_, kind)| *kind).collect(),
            rows: Vec::new(),
        })
    }

    /// Takes a row.
    fn row(&mut self, cells: Vec<Cell>) -> Outcome<()> {
        self.rows.push(cells);
        if self.rows.len() < GROUP {
            return Ok(());
        }
        self.group()
    }

    fn group(&mut self) -> Outcome<()> {
        let rows = std::mem::take(&mut self.rows);
        let mut group = self.writer.next_row_group()?;
        for (at, kind) in self.kinds.iter().enumerate() {
            let cells = rows.iter().map(|row| row.get(at).unwrap_or(&Cell::Null));
            match kind {
                Kind::Whole => column::<W, Int64Type>(&mut group, cells, |cell| match cell {
                    Cell::Whole(number) => Some(*number),
                    _ => None,
                })?,
                Kind::Real => column::<W, DoubleType>(&mut group, cells, |cell| match cell {
                    Cell::Whole(number) => Some(*number as f64),
                    Cell::Real(number) => Some(*number),
                    _ => None,
                })?,
                Kind::Nothing | Kind::Text => {
                    column::<W, ByteArrayType>(&mut group, cells, |cell| match cell {
                        Cell::Null => None,
                        Cell::Whole(number) => Some(number.to_string().as_str().into()),
                        Cell::Real(number) => Some(number.to_string().as_str().into()),
                        Cell::Text(text) => Some(text.as_str().into()),
                    })?;
                }
            }
        }
        group.close()?;
        Ok(())
    }

    /// Writes what is left, and the table's end.
    fn end(mut self) -> Outcome<()> {
        if !self.rows.is_empty() {
            self.group()?;
        }
        self.writer.close()?;
        Ok(())
    }
}

/// Writes the next column of a group.
fn column<'c, W: Write + Send, T: DataType>(
    group: &mut SerializedRowGroupWriter<'_, W>,
    cells: impl Iterator<Item = &'c Cell>,
    value: impl Fn(&Cell) -> Option<T::T>,
) -> Outcome<()> {
    let (mut values, mut levels) = (Vec::new(), Vec::new());
    for cell in cells {
        let value = value(cell);
        levels.push(i16::from(value.is_some()));
        values.extend(value);
    }
    let Some(mut column) = group.next_column()? else {
        return Err(ParquetError::General("a column is missing".to_owned()));
    };
    column
        .typed::<T>()
        .write_batch(&values, Some(&levels), None)?;
    column.close()
}

/// Rows until it is known what their columns hold: in a file without a name, which is gone with the process.
struct Waiting {
    file: BufWriter<File>,
    columns: Vec<(String, Kind)>,
}

impl Waiting {
    fn begin() -> io::Result<Self> {
        Ok(Self {
            file: BufWriter::new(tempfile::tempfile()?),
            columns: Vec::new(),
        })
    }

    fn head(&mut self, names: &[String]) {
        let columns = names.iter().map(|name| (name.clone(), Kind::default()));
        self.columns = columns.collect();
    }

    fn row(&mut self, cells: &[Cell]) -> io::Result<()> {
        for ((_, kind), cell) in self.columns.iter_mut().zip(cells) {
            *kind = kind.with(cell);
            let (mark, bytes): (u8, &[u8]) = match cell {
                Cell::Null => (0, &[]),
                Cell::Whole(number) => (1, &number.to_le_bytes()),
                Cell::Real(number) => (2, &number.to_le_bytes()),
                Cell::Text(text) => (3, text.as_bytes()),
            };
            self.file.write_all(&[mark])?;
            if mark == 3 {
                self.file.write_all(&(bytes.len() as u64).to_le_bytes())?;
            }
            self.file.write_all(bytes)?;
        }
        Ok(())
    }

    /// Gives the rows in their order, now that all are there.
    fn each(self, mut each: impl FnMut(Vec<Cell>) -> Result<(), Error>) -> Result<(), Error> {
        let mut file = self
            .file
            .into_inner()
            .map_err(|fault| Error::Output(fault.into_error()))?;
        file.seek(SeekFrom::Start(0)).map_err(Error::Output)?;
        let mut file = BufReader::new(file);
        while !self.columns.is_empty() && !file.fill_buf().map_err(Error::Output)?.is_empty() {
            let cells = self.columns.iter().map(|_| next(&mut file));
            each(cells.collect::<io::Result<_>>().map_err(Error::Output)?)?;
        }
        Ok(())
    }
}

fn next(file: &mut impl Read) -> io::Result<Cell> {
    let mut mark = [0];
    file.read_exact(&mut mark)?;
    let mut number = || {
        let mut bytes = [0; 8];
        file.read_exact(&mut bytes).map(|()| bytes)
    };
    Ok(match mark {
        [0] => Cell::Null,
        [1] => Cell::Whole(i64::from_le_bytes(number()?)),
        [2] => Cell::Real(f64::from_le_bytes(number()?)),
        _ => {
            let length = u64::from_le_bytes(number()?);
            let mut text = String::new();
            file.by_ref().take(length).read_to_string(&mut text)?;
            Cell::Text(text)
        }
    })
}

/// Writes rows as a table.
///
/// # Errors
///
/// Where the table cannot be written.
pub fn write_rows(
    names: &[String],
    rows: impl Iterator<Item = Vec<Cell>>,
    out: impl Write + Send,
) -> Result<(), Error> {
    let mut waiting = Waiting::begin().map_err(Error::Output)?;
    waiting.head(names);
    for cells in rows {
        waiting.row(&cells).map_err(Error::Output)?;
    }
    write(waiting, out)
}

fn write(waiting: Waiting, out: impl Write + Send) -> Result<(), Error> {
    let mut table = Table::begin(out, &waiting.columns).map_err(unwritten)?;
    waiting.each(|cells| table.row(cells).map_err(unwritten))?;
    table.end().map_err(unwritten)
}

/// Writes the answer to a question as a table. The question is asked once: rows wait in a temporary file
/// until it is known what their columns hold.
///
/// # Errors
///
/// Where the question cannot be answered, or the table not be written.
pub fn write_table(reader: &Reader, question: &str, out: impl Write + Send) -> Result<(), Error> {
    let waiting = RefCell::new(Waiting::begin().map_err(Error::Output)?);
    reader.ask(
        question,
        |names| {
            waiting.borrow_mut().head(names);
            Ok(())
        },
        |cells| waiting.borrow_mut().row(&cells).map_err(Error::Output),
    )?;
    write(waiting.into_inner(), out)
}

fn unwritten(fault: ParquetError) -> Error {
    Error::Output(match fault {
        ParquetError::External(cause) => match cause.downcast::<io::Error>() {
            Ok(cause) => *cause,
            Err(cause) => io::Error::other(cause.to_string()),
        },
        other => io::Error::other(other.to_string()),
    })
}

/// Whether a file's first bytes are those of Parquet.
pub(super) fn is_parquet(head: &[u8]) -> bool {
    head.starts_with(b"PAR1")
}

/// Reads the texts of a file's column `line` (or `value`, or its only column of texts), in order, until
/// `each` is false.
///
/// # Errors
///
/// Where it cannot be read, or has no such column.
pub(super) fn texts(path: &Path, each: &mut dyn FnMut(&str) -> bool) -> Result<(), Error> {
    let unread = |why: String| Error::Table {
        name: name(path),
        why,
    };
    // A file that is damaged may be more than its reader is ready for.
    match crate::job::guarded(|| read(path, each)) {
        Ok(outcome) => outcome.map_err(|fault| unread(fault.to_string())),
        Err(_) => Err(unread("it is damaged".to_owned())),
    }
}

fn read(path: &Path, each: &mut dyn FnMut(&str) -> bool) -> Outcome<()> {
    let file = SerializedFileReader::new(File::open(path)?)?;
    let schema = file.metadata().file_metadata().schema_descr_ptr();
    let of_texts = |at: &usize| {
        let column = schema.column(*at);
        column.physical_type() == Physical::BYTE_ARRAY && column.max_rep_level() == 0
    };
    let columns: Vec<usize> = (0..schema.num_columns()).filter(of_texts).collect();
    let named = |name| {
        columns
            .iter()
            .find(|at| schema.column(**at).path().string() == name)
    };
    let only = columns.first().filter(|_| columns.len() == 1);
    let Some(at) = named("line").or_else(|| named("value")).or(only) else {
        let message = "it has no column `line` of texts";
        return Err(ParquetError::General(message.to_owned()));
    };
    for group in 0..file.num_row_groups() {
        let group = file.get_row_group(group)?;
        let mut column = get_typed_column_reader::<ByteArrayType>(group.get_column_reader(*at)?);
        let (mut texts, mut levels): (Vec<ByteArray>, Vec<i16>) = (Vec::new(), Vec::new());
        loop {
            texts.clear();
            levels.clear();
            let (read, ..) = column.read_records(AT_ONCE, Some(&mut levels), None, &mut texts)?;
            if read == 0 {
                break;
            }
            for text in &texts {
                if !each(text.as_utf8()?) {
                    return Ok(());
                }
            }
        }
    }
    Ok(())
}
