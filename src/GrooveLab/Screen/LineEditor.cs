namespace GrooveLab.Screen;

/// <summary>The line being typed, edited as shells do. Independent of the terminal.</summary>
internal sealed class LineEditor
{
    private const int MostBefore = 200;

    private readonly List<string> _before = [];
    private string _draft = string.Empty;
    private string _cut = string.Empty;
    private int _at;

    /// <summary>The text; null while nothing is typed.</summary>
    public string? Text { get; private set; }

    /// <summary>The place of the caret in the text, from 0 to its length.</summary>
    public int Caret { get; private set; }

    /// <summary>Opens the line.</summary>
    public void Open(string text)
    {
        Set(text);
        (_at, _draft) = (_before.Count, string.Empty);
    }

    /// <summary>Closes the line.</summary>
    public void Close() => (Text, Caret) = (null, 0);

    /// <summary>Closes the line and remembers it.</summary>
    /// <returns>The text without blanks around it.</returns>
    public string Enter()
    {
        var words = Text!.Trim();
        if (words.Length > 0 && (_before.Count == 0 || _before[^1] != words))
        {
            _before.Add(words);
            if (_before.Count > MostBefore)
            {
                _before.RemoveAt(0);
            }
        }

        Close();
        return words;
    }

    /// <summary>Replaces the text before the caret from a place on.</summary>
    public void Replace(int from, string text)
    {
        Text = Text![..from] + text + Text[Caret..];
        Caret = from + text.Length;
    }

    /// <summary>Handles a key.</summary>
    /// <param name="key">Its name, as in the settings.</param>
    /// <returns>False for a key that does not edit.</returns>
    public bool Press(string key)
    {
        var text = Text!;
        switch (key)
        {
            case "esc" or "ctrl+g":
                Close();
                break;
            case "backspace" when text.Length == 0:
                Close();
                break;
            case "backspace":
                Remove(Math.Max(0, Caret - 1), Caret, keeps: false);
                break;
            case "delete" or "ctrl+d":
                Remove(Caret, Math.Min(text.Length, Caret + 1), keeps: false);
                break;
            case "left" or "ctrl+b":
                Caret = Math.Max(0, Caret - 1);
                break;
            case "right" or "ctrl+f":
                Caret = Math.Min(text.Length, Caret + 1);
                break;
            case "home" or "ctrl+a":
                Caret = 0;
                break;
            case "end" or "ctrl+e":
                Caret = text.Length;
                break;
            case "ctrl+left" or "alt+b":
                Caret = WordBefore(Caret);
                break;
            case "ctrl+right" or "alt+f":
                Caret = WordAfter(Caret);
                break;
            case "ctrl+w" or "ctrl+backspace" or "alt+backspace":
                Remove(WordBefore(Caret), Caret, keeps: true);
                break;
            case "ctrl+delete" or "alt+d":
                Remove(Caret, WordAfter(Caret), keeps: true);
                break;
            case "ctrl+u":
                Remove(0, Caret, keeps: true);
                break;
            case "ctrl+k":
                Remove(Caret, text.Length, keeps: true);
                break;
            case "ctrl+y":
                Insert(_cut);
                break;
            case "up" or "ctrl+p":
                Recall(-1);
                break;
            case "down" or "ctrl+n":
                Recall(1);
                break;
            case "space":
                Insert(" ");
                break;
            default:
                if (key.Contains('+') && key.Length > 1)
                {
                    return false;
                }

                // A letter beyond the first plane has two characters.
                if (key.Length == 1 || (key.Length == 2 && char.IsSurrogatePair(key[0], key[1])))
                {
                    Insert(key);
                    return true;
                }

                return false;
        }

        return true;
    }

    private void Set(string text) => (Text, Caret) = (text, text.Length);

    private void Insert(string added)
    {
        Text = Text!.Insert(Caret, added);
        Caret += added.Length;
    }

    private void Remove(int from, int to, bool keeps)
    {
        if (keeps && to > from)
        {
            _cut = Text![from..to];
        }

        Text = Text!.Remove(from, to - from);
        Caret = from;
    }

    private int WordBefore(int at)
    {
        while (at > 0 && Text![at - 1] == ' ')
        {
            at--;
        }

        while (at > 0 && Text![at - 1] != ' ')
        {
            at--;
        }

        return at;
    }

    private int WordAfter(int at)
    {
        while (at < Text!.Length && Text[at] == ' ')
        {
            at++;
        }

        while (at < Text.Length && Text[at] != ' ')
        {
            at++;
        }

        return at;
    }

    private void Recall(int step)
    {
        var to = _at + step;
        if (to < 0 || to > _before.Count)
        {
            return;
        }

        if (_at == _before.Count)
        {
            _draft = Text!;
        }

        _at = to;
        Set(to == _before.Count ? _draft : _before[to]);
    }
}
