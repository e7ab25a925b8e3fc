namespace GrooveLab.Screen;

/// <summary>The meaning of a cell; a palette gives it a look. Two never differ by colour alone: each has its own signs or place.</summary>
internal enum Ink : byte
{
    /// <summary>Text.</summary>
    Plain,

    /// <summary>Less important text.</summary>
    Faint,

    /// <summary>The most important text.</summary>
    Strong,

    /// <summary>The part of the bar that has been played.</summary>
    Passed,

    /// <summary>The part of the bar still to be played.</summary>
    Ahead,

    /// <summary>The moving point.</summary>
    Point,

    /// <summary>A pending change.</summary>
    Pending,

    /// <summary>A problem.</summary>
    Warning,

    /// <summary>A key's name.</summary>
    Key,
}

/// <summary>A cell: a sign one column wide, and its meaning.</summary>
internal readonly record struct Dot(char Sign, Ink Ink);

/// <summary>A picture in cells, redrawn for every frame without allocating. Independent of the terminal.</summary>
internal sealed class Canvas
{
    private Dot[] _cells = [];

    /// <summary>Columns.</summary>
    public int Width { get; private set; }

    /// <summary>Rows.</summary>
    public int Height { get; private set; }

    /// <summary>True: ASCII only.</summary>
    public bool Ascii { get; set; }

    /// <summary>The cell at a place.</summary>
    public Dot this[int column, int row] => _cells[(row * Width) + column];

    /// <summary>Starts an empty picture of a given size.</summary>
    public void Begin(int width, int height)
    {
        if (width != Width || height != Height)
        {
            _cells = new Dot[width * height];
            (Width, Height) = (width, height);
        }

        Array.Fill(_cells, new Dot(' ', Ink.Plain));
    }

    /// <summary>Writes a sign; does nothing outside the picture.</summary>
    public void Put(int column, int row, char sign, Ink ink)
    {
        if ((uint)column < (uint)Width && (uint)row < (uint)Height)
        {
            _cells[(row * Width) + column] = new Dot(Ascii && sign is > '~' or Cells.Filler ? Plainer(sign) : sign, ink);
        }
    }

    /// <summary>Writes a cell unchanged.</summary>
    public void Copy(int column, int row, Dot dot) => _cells[(row * Width) + column] = dot;

    /// <summary>Writes a text between two columns; a text that is too long is cut and marked.</summary>
    /// <returns>The column after it.</returns>
    public int Write(int column, int row, ReadOnlySpan<char> text, Ink ink, int end = int.MaxValue)
    {
        end = Math.Min(end, Width);
        var room = end - column;
        if (room <= 0)
        {
            return column;
        }

        var cut = text.Length > room;
        var count = cut ? room - 1 : text.Length;
        for (var i = 0; i < count; i++)
        {
            Put(column + i, row, i == 0 && text[i] == Cells.Filler ? ' ' : text[i], ink);
        }

        if (cut && count > 0 && text[count] == Cells.Filler)
        {
            // Half of a sign cannot be shown.
            Put(column + count - 1, row, ' ', ink);
        }

        if (cut)
        {
            Put(column + count, row, '~', ink);
        }

        return column + count + (cut ? 1 : 0);
    }

    /// <summary>Writes a text that ends before a column.</summary>
    public void WriteRight(int end, int row, ReadOnlySpan<char> text, Ink ink) => Write(Math.Max(0, end - text.Length), row, text, ink, end);

    /// <summary>The signs line by line, without trailing blanks.</summary>
    public override string ToString()
    {
        var text = new System.Text.StringBuilder();
        for (var row = 0; row < Height; row++)
        {
            var line = new System.Text.StringBuilder(Width);
            for (var column = 0; column < Width; column++)
            {
                var sign = this[column, row].Sign;
                if (Cells.Cluster(sign) is { } cluster)
                {
                    line.Append(cluster);
                }
                else if (sign != Cells.Filler)
                {
                    line.Append(sign);
                }
            }

            text.Append(line.ToString().TrimEnd()).Append('\n');
        }

        return text.ToString();
    }

    // One letter for one: what has two stays a question mark.
    private static char PlainLetter(char letter) =>
        letter is >= ' ' and <= '~' ? letter
        : BigText.Unmarked(char.ToUpperInvariant(letter)) is not { Length: 1 } capital ? '?'
        : char.IsLower(letter) ? char.ToLowerInvariant(capital[0]) : capital[0];

    private static char Plainer(char sign) => sign switch
    {
        Cells.Filler => ' ',
        '●' => 'O',
        '○' => 'o',
        '█' => '#',
        '▲' => '^',
        '▶' => '>',
        '·' => '.',
        '│' => '|',
        '─' => '-',
        '♭' => 'b',
        '♯' => '#',
        '▁' or '▂' or '▃' => '_',
        '▄' or '▅' or '▆' or '▇' => '=',
        '░' or '▒' => ':',
        '▀' => '"',
        '–' => '-',
        '’' => '\'',
        _ => Cells.Cluster(sign) is { } cluster ? PlainLetter(cluster[0]) : PlainLetter(sign),
    };
}
