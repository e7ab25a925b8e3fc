using System.Text.Json;

namespace GrooveLab.SameMusic.Outputs;

/// <summary>Compares two JSON documents: every member of the base must exist with the same value; members may be added.</summary>
internal sealed class JsonComparison
{
    private const string Absent = "(absent)";
    private readonly List<Difference> _differences = [];
    private readonly SortedSet<string> _added = new(StringComparer.Ordinal);

    private JsonComparison()
    {
    }

    /// <summary>The differences.</summary>
    public IReadOnlyList<Difference> Differences => _differences;

    /// <summary>The members that the base lacks, each kind of place once.</summary>
    public IReadOnlySet<string> Added => _added;

    /// <summary>Compares.</summary>
    public static JsonComparison Of(ReadOnlyMemory<byte> baseText, ReadOnlyMemory<byte> currentText)
    {
        var comparison = new JsonComparison();
        using var before = JsonDocument.Parse(baseText);
        using var now = JsonDocument.Parse(currentText);
        comparison.Compare(before.RootElement, now.RootElement, string.Empty, string.Empty);
        return comparison;
    }

    private static string Shown(JsonElement element) => element.ValueKind switch
    {
        JsonValueKind.Object => "an object",
        JsonValueKind.Array => $"{element.GetArrayLength()} elements",
        _ => element.GetRawText(),
    };

    private static string Member(string path, string name) => path.Length == 0 ? name : $"{path}.{name}";

    private void Compare(JsonElement before, JsonElement now, string path, string where)
    {
        if (before.ValueKind != now.ValueKind)
        {
            Tell(Shown(before), Shown(now));
            return;
        }

        switch (before.ValueKind)
        {
            case JsonValueKind.Object:
                foreach (var member in before.EnumerateObject())
                {
                    if (now.TryGetProperty(member.Name, out var same))
                    {
                        Compare(member.Value, same, Member(path, member.Name), Member(where, member.Name));
                    }
                    else
                    {
                        _differences.Add(new Difference(Member(path, member.Name), Member(where, member.Name), Shown(member.Value), Absent));
                    }
                }

                foreach (var member in now.EnumerateObject().Where(member => !before.TryGetProperty(member.Name, out _)))
                {
                    _added.Add(Member(path, member.Name));
                }

                break;
            case JsonValueKind.Array:
                if (before.GetArrayLength() != now.GetArrayLength())
                {
                    Tell(Shown(before), Shown(now));
                    return;
                }

                foreach (var (index, (element, other)) in before.EnumerateArray().Zip(now.EnumerateArray()).Index())
                {
                    Compare(element, other, path + "[]", $"{where}[{index}]");
                }

                break;
            case JsonValueKind.String:
                // Two spellings of the same text are equal.
                if (before.GetString() != now.GetString())
                {
                    Tell(Shown(before), Shown(now));
                }

                break;
            default:
                if (before.GetRawText() != now.GetRawText())
                {
                    Tell(Shown(before), Shown(now));
                }

                break;
        }

        void Tell(string there, string here) => _differences.Add(new Difference(path, where, there, here));
    }
}
