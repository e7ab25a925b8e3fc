namespace GrooveLab.Screen;

/// <summary>Letters three rows high for chord names and numbers, to be read from a music stand. Five dots high, two to a cell.</summary>
internal static class BigText
{
    /// <summary>Height in rows.</summary>
    public const int Rows = 3;

    // Five rows of dots a letter, top to bottom.
    private static readonly Dictionary<char, string[]> Letters = new()
    {
        ['A'] = [" ## ", "#  #", "####", "#  #", "#  #"],
        ['B'] = ["### ", "#  #", "### ", "#  #", "### "],
        ['C'] = [" ###", "#   ", "#   ", "#   ", " ###"],
        ['D'] = ["### ", "#  #", "#  #", "#  #", "### "],
        ['E'] = ["####", "#   ", "### ", "#   ", "####"],
        ['F'] = ["####", "#   ", "### ", "#   ", "#   "],
        ['G'] = [" ###", "#   ", "# ##", "#  #", " ###"],
        ['N'] = ["#  #", "## #", "# ##", "#  #", "#  #"],
        ['a'] = ["    ", " ## ", "  ##", "# ##", "####"],
        ['b'] = ["#  ", "## ", "# #", "# #", "## "],
        ['d'] = ["  #", " ##", "# #", "# #", " ##"],
        ['g'] = [" ##", "# #", " ##", "  #", "## "],
        ['i'] = ["#", " ", "#", "#", "#"],
        ['j'] = [" #", "  ", " #", " #", "# "],
        ['m'] = ["     ", "#### ", "# # #", "# # #", "# # #"],
        ['o'] = ["   ", "   ", "###", "# #", "###"],
        ['s'] = ["   ", " ##", "#  ", "  #", "## "],
        ['u'] = ["   ", "   ", "# #", "# #", "###"],
        ['t'] = [" # ", "###", " # ", " # ", " ##"],
        ['0'] = ["###", "# #", "# #", "# #", "###"],
        ['1'] = [" #", "##", " #", " #", " #"],
        ['2'] = ["###", "  #", "###", "#  ", "###"],
        ['3'] = ["###", "  #", " ##", "  #", "###"],
        ['4'] = ["# #", "# #", "###", "  #", "  #"],
        ['5'] = ["###", "#  ", "###", "  #", "###"],
        ['6'] = ["###", "#  ", "###", "# #", "###"],
        ['7'] = ["###", "  #", " # ", " # ", " # "],
        ['8'] = ["###", "# #", "###", "# #", "###"],
        ['9'] = ["###", "# #", "###", "  #", "###"],
        ['#'] = [" # #", "#####", " # #", "#####", " # #"],
        ['/'] = ["   #", "  # ", "  # ", " #  ", "#   "],
        ['+'] = ["   ", " # ", "###", " # ", "   "],
        ['-'] = ["   ", "   ", "###", "   ", "   "],
        ['.'] = [" ", " ", " ", " ", "#"],
        ['('] = [" #", "# ", "# ", "# ", " #"],
        [')'] = ["# ", " #", " #", " #", "# "],
    };

    /// <summary>Width of a text in columns; 0 if a letter is missing.</summary>
    public static int WidthOf(string text)
    {
        var width = 0;
        foreach (var letter in text)
        {
            if (!Letters.TryGetValue(letter, out var rows))
            {
                return 0;
            }

            width += Width(rows) + 1;
        }

        return Math.Max(0, width - 1);
    }

    /// <summary>Draws a text with its top left corner at a cell.</summary>
    public static void Draw(Canvas canvas, int column, int row, string text, Ink ink)
    {
        foreach (var letter in text)
        {
            if (!Letters.TryGetValue(letter, out var rows))
            {
                continue;
            }

            var width = Width(rows);
            for (var x = 0; x < width; x++)
            {
                for (var y = 0; y < Rows; y++)
                {
                    var (top, bottom) = (Is(rows, 2 * y, x), Is(rows, (2 * y) + 1, x));
                    var sign = top && bottom ? '█' : top ? '▀' : bottom ? '▄' : ' ';
                    canvas.Put(column + x, row + y, sign, ink);
                }
            }

            column += width + 1;
        }
    }

    private static int Width(string[] rows) => rows.Max(row => row.Length);

    private static bool Is(string[] rows, int y, int x) => y < rows.Length && x < rows[y].Length && rows[y][x] == '#';
}
