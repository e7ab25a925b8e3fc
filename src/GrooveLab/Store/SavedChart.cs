using GrooveLab.Audio.Conducting;
using GrooveLab.Files;

namespace GrooveLab.Store;

/// <summary>
/// The chart's file of one performance, and the other files that it is saved as: what was read or last written there, so that a file that changed
/// outside is noticed. One thread uses it.
/// </summary>
internal sealed class SavedChart
{
    /// <summary>What a chart without a file is saved as, in the working folder.</summary>
    public const string NameOfDemo = "ferry-lanterns.toml";

    private readonly TextKeeper _keeper;
    private readonly Dictionary<string, ContentHash> _known = new(StringComparer.Ordinal);
    private readonly string _own;
    private readonly ContentHash _opened;
    private (string Path, ContentHash? Seen)? _changed;

    /// <param name="path">The chart's file; null for a chart that has none yet.</param>
    /// <param name="text">What was read from it.</param>
    /// <param name="data">The user's data folder.</param>
    public SavedChart(string? path, string text, string data)
    {
        _keeper = new TextKeeper(data);
        _own = path ?? NameOfDemo;
        _opened = ContentHash.Of(text);
        if (path is not null)
        {
            _known[DurableFile.RealPath(path)] = ContentHash.Of(text);
        }
    }

    /// <summary>Saves a text, unless it would replace one that was not read here.</summary>
    /// <param name="text">The chart's text.</param>
    /// <param name="path">Where to; null for its own file.</param>
    /// <param name="remark">What is said of the text, after the file's name.</param>
    /// <param name="isPart">Whether something of the text that was opened is not in this one: then the copy of that is named each time.</param>
    public ChangeAnswer Save(string text, string? path, string remark = "", bool isPart = false)
    {
        path ??= _own;
        var known = _known.TryGetValue(DurableFile.RealPath(path), out var hash) ? hash : (ContentHash?)null;
        return Said(path, _keeper.Save(path, text, known), remark, isPart);
    }

    /// <summary>Saves a text over the file of which the last answer was that it changed outside, or that it exists; that is kept as a copy.</summary>
    public ChangeAnswer SaveAnyway(string text, string remark = "", bool isPart = false) =>
        _changed is not { } changed ? Save(text, null, remark, isPart)
            : Said(changed.Path, _keeper.SaveAnyway(changed.Path, text, changed.Seen), remark, isPart);

    private ChangeAnswer Said(string path, SaveAnswer answer, string remark, bool isPart)
    {
        var name = Path.GetFileName(path);
        _changed = null;
        switch (answer)
        {
            case SaveAnswer.Written written:
                _known[written.Path] = written.Content;
                var opened = isPart ? TextKeeper.CopyOf(written.Path, _opened) : null;
                return new ChangeAnswer(true, $"saved in {name}{remark}{InCopy("old version", opened ?? written.Backup)}"
                    + (opened is null || opened == written.Backup ? string.Empty : InCopy("what it replaced", written.Backup)));
            case SaveAnswer.ChangedOutside changed:
                _changed = (path, changed.Current);
                return new ChangeAnswer(false, Offer(name, changed, _known.ContainsKey(changed.Path)));
            case SaveAnswer.Refused refused:
                return new ChangeAnswer(false, "not saved: " + refused.Refusal.Message);
            default:
                throw new InvalidOperationException("A save has three answers.");
        }
    }

    private static string InCopy(string what, string? copy) => copy is null ? string.Empty : $"; {what} in {Path.GetFileName(copy)}";

    private static string Offer(string name, SaveAnswer.ChangedOutside changed, bool wasRead) => changed.Current is null
        ? $"not saved: {name} was deleted meanwhile; 'save anyway' writes it again, 'save NAME' writes another file"
        : wasRead
            ? $"not saved: {name} was changed outside meanwhile; 'save anyway' replaces it and keeps it as {name}~, 'save NAME' writes another file"
            : $"not saved: {name} already exists; 'save anyway' replaces it and keeps it as {name}~, 'save NAME' writes another file";
}
