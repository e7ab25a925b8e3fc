namespace GrooveLab.Screen;

/// <summary>Letters three rows high for chords and words, to be read from a music stand. Five dots high, two to a cell.</summary>
internal static class BigText
{
    /// <summary>Height in rows.</summary>
    public const int Rows = 3;

    private const int Five = 5;

    // Five rows of dots a letter, top to bottom. Two dots above a letter tell words apart and take the sixth row that three cells have; where
    // there are five rows, the empty one is left out.
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
        ['Ä'] = ["#  #", "    ", " ## ", "#  #", "####", "#  #"],
        ['Ë'] = ["#  #", "    ", "####", "### ", "#   ", "####"],
        ['Ï'] = ["# #", "   ", "###", " # ", " # ", "###"],
        ['Ö'] = ["#  #", "    ", " ## ", "#  #", "#  #", " ## "],
        ['Ü'] = ["#  #", "    ", "#  #", "#  #", "#  #", " ## "],
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
        ['H'] = ["#  #", "#  #", "####", "#  #", "#  #"],
        ['I'] = ["###", " # ", " # ", " # ", "###"],
        ['J'] = ["  ##", "   #", "   #", "#  #", " ## "],
        ['K'] = ["#  #", "# # ", "##  ", "# # ", "#  #"],
        ['L'] = ["#   ", "#   ", "#   ", "#   ", "####"],
        ['M'] = ["#   #", "## ##", "# # #", "#   #", "#   #"],
        ['O'] = [" ## ", "#  #", "#  #", "#  #", " ## "],
        ['P'] = ["### ", "#  #", "### ", "#   ", "#   "],
        ['Q'] = [" ## ", "#  #", "#  #", "# # ", " # #"],
        ['R'] = ["### ", "#  #", "### ", "# # ", "#  #"],
        ['S'] = [" ###", "#   ", " ## ", "   #", "### "],
        ['T'] = ["#####", "  #  ", "  #  ", "  #  ", "  #  "],
        ['U'] = ["#  #", "#  #", "#  #", "#  #", " ## "],
        ['V'] = ["#   #", "#   #", " # # ", " # # ", "  #  "],
        ['W'] = ["#   #", "#   #", "# # #", "## ##", "#   #"],
        ['X'] = ["#   #", " # # ", "  #  ", " # # ", "#   #"],
        ['Y'] = ["#   #", " # # ", "  #  ", "  #  ", "  #  "],
        ['Z'] = ["#####", "   # ", "  #  ", " #   ", "#####"],
        ['\''] = ["#", "#", " ", " ", " "],
        ['!'] = ["#", "#", "#", " ", "#"],
        ['?'] = ["###", "  #", " ##", "   ", " # "],
        [':'] = [" ", "#", " ", "#", " "],
        ['"'] = ["# #", "# #", "   ", "   ", "   "],
        ['&'] = [" ##  ", "#  # ", " ## #", "#  # ", " ## #"],
        ['|'] = ["#", "#", "#", "#", "#"],
        [','] = ["  ", "  ", "  ", " #", "# "],
        [';'] = ["  ", " #", "  ", " #", "# "],
        ['-'] = ["   ", "   ", "###", "   ", "   "],
        ['.'] = [" ", " ", " ", " ", "#"],
        ['('] = [" #", "# ", "# ", "# ", " #"],
        [')'] = ["# ", " #", " #", " #", "# "],
    };

    // The letters with two dots that are written as two characters.
    private const string Dotted = "AÄEËIÏOÖUÜ";

    // Other letters with marks are drawn without them; what has two letters here has two there.
    private static readonly (string Marked, string Plain)[] Folded =
    [
        ("ÀÁÂÃÄÅĀĂĄ", "A"), ("ÇĆĈĊČ", "C"), ("ĎĐÐ", "D"), ("ÈÉÊËĒĔĖĘĚ", "E"), ("ĜĞĠĢ", "G"), ("ĤĦ", "H"), ("ÌÍÎÏĨĪĬĮİ", "I"), ("Ĵ", "J"), ("Ķ", "K"),
        ("ĹĻĽŁ", "L"), ("ÑŃŅŇ", "N"), ("ÒÓÔÕÖØŌŎŐ", "O"), ("ŔŖŘ", "R"), ("ŚŜŞŠȘ", "S"), ("ŢŤŦȚ", "T"), ("ÙÚÛÜŨŪŬŮŰŲ", "U"), ("Ŵ", "W"), ("ÝŶŸ", "Y"),
        ("ŹŻŽ", "Z"), ("ẞß", "SS"), ("Æ", "AE"), ("Œ", "OE"), ("Þ", "TH"), ("’‘ʼ`", "'"), ("“”„«»", "\""), ("–—‑", "-"), ("…", "..."),
    ];

    // The letters of Vietnamese, whose marks tell words apart: they are left out only where nothing but ASCII can be shown.
    private static readonly (string Marked, string Plain)[] Vietnamese =
    [
        ("ẠẢẤẦẨẪẬẮẰẲẴẶ", "A"), ("ẸẺẼẾỀỂỄỆ", "E"), ("ỈỊ", "I"), ("ƠỌỎỐỒỔỖỘỚỜỞỠỢ", "O"), ("ƯỤỦỨỪỬỮỰ", "U"), ("ỲỴỶỸ", "Y"),
    ];

    // The marks of the letters in Folded, where they are characters of their own: grave to tilde, macron, breve to diaeresis, ring to caron, and
    // comma, cedilla and ogonek below (Unicode, Combining Diacritical Marks).
    private const string FoldedMarks = "\u0300\u0301\u0302\u0303\u0304\u0306\u0307\u0308\u030a\u030b\u030c\u0326\u0327\u0328";

    /// <summary>A capital letter without its marks; null if it has none or is not known.</summary>
    public static string? Unmarked(char capital) =>
        Array.Find(Folded, fold => fold.Marked.Contains(capital, StringComparison.Ordinal)).Plain
        ?? Array.Find(Vietnamese, fold => fold.Marked.Contains(capital, StringComparison.Ordinal)).Plain;

    /// <summary>The rows of a letter: <see cref="Rows"/>, or five in ASCII, which has no half cells.</summary>
    public static int RowsIn(Canvas canvas) => canvas.Ascii ? 5 : Rows;

    /// <summary>A word in the capitals that can be drawn; null if one of its letters cannot.</summary>
    public static string? Capitals(string word)
    {
        var capitals = new System.Text.StringBuilder(word.Length);
        var isMarked = true;
        foreach (var letter in word)
        {
            // One mark after a letter, as in decomposed Czech; two are those of Vietnamese.
            if (!isMarked && FoldedMarks.Contains(letter, StringComparison.Ordinal))
            {
                isMarked = true;
                if (letter == '\u0308' && Dotted.IndexOf(capitals[^1], StringComparison.Ordinal) is >= 0 and var at && at % 2 == 0)
                {
                    capitals[^1] = Dotted[at + 1];
                }

                continue;
            }

            var upper = char.ToUpperInvariant(letter);
            isMarked = !char.IsAsciiLetter(letter);
            if (Letters.ContainsKey(upper))
            {
                capitals.Append(upper);
            }
            else if (Array.Find(Folded, fold => fold.Marked.Contains(upper, StringComparison.Ordinal)).Plain is { } plain)
            {
                capitals.Append(plain);
            }
            else
            {
                return null;
            }
        }

        return capitals.ToString();
    }

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
                for (var y = 0; canvas.Ascii && y < RowsIn(canvas); y++)
                {
                    canvas.Put(column + x, row + y, Is(rows, y > 0 && rows.Length > Five ? y + 1 : y, x) ? '#' : ' ', ink);
                }

                for (var y = 0; !canvas.Ascii && y < Rows; y++)
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
