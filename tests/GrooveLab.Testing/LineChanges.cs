namespace GrooveLab.Testing;

/// <summary>Which lines of a text changed.</summary>
public static class LineChanges
{
    /// <summary>The removed ("-") and added ("+") lines, in order: the lines of both texts outside their longest common sequence of
    /// lines.</summary>
    public static IReadOnlyList<(char Sign, string Line)> Of(string before, string after)
    {
        var (a, b) = (Lines(before), Lines(after));
        var common = new int[a.Length + 1, b.Length + 1];
        for (var i = a.Length - 1; i >= 0; i--)
        {
            for (var j = b.Length - 1; j >= 0; j--)
            {
                common[i, j] = a[i] == b[j] ? common[i + 1, j + 1] + 1 : Math.Max(common[i + 1, j], common[i, j + 1]);
            }
        }

        var changes = new List<(char Sign, string Line)>();
        for (int i = 0, j = 0; i < a.Length || j < b.Length;)
        {
            if (i < a.Length && j < b.Length && a[i] == b[j])
            {
                i++;
                j++;
            }
            else if (i < a.Length && (j == b.Length || common[i + 1, j] >= common[i, j + 1]))
            {
                changes.Add(('-', a[i++]));
            }
            else
            {
                changes.Add(('+', b[j++]));
            }
        }

        return changes;
    }

    /// <summary>The removed lines.</summary>
    public static string[] Gone(string before, string after) => [.. Of(before, after).Where(change => change.Sign == '-').Select(change => change.Line)];

    /// <summary>The added lines.</summary>
    public static string[] Come(string before, string after) => [.. Of(before, after).Where(change => change.Sign == '+').Select(change => change.Line)];

    private static string[] Lines(string text) => text.Replace("\r\n", "\n", StringComparison.Ordinal).TrimStart('\uFEFF').TrimEnd('\n').Split('\n');
}
