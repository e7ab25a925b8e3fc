using GrooveLab.Audio.Conducting;
using GrooveLab.Files;

namespace GrooveLab.Store;

/// <summary>
/// The chart's file of one performance, and other files that it is saved as, with the content last read or written, so that edits by others
/// are noticed. For use by one thread.
/// </summary>
internal sealed class SavedChart
{
    /// <summary>The file name of the demo, in the working folder.</summary>
    public const string NameOfDemo = "ferry-lanterns.toml";

    private readonly TextKeeper _keeper;
    private readonly Dictionary<string, ContentHash> _known = new(StringComparer.Ordinal);
    private readonly string _own;
    private readonly bool _hasFile;
    private readonly ContentHash _opened;
    private (string Path, ContentHash? Seen)? _changed;

    /// <param name="path">The chart's file; null if it has none yet.</param>
    /// <param name="text">The text that was read from it.</param>
    /// <param name="data">The user's data folder.</param>
    /// <param name="nameWithoutFile">The file name for a chart without a file, in the working folder.</param>
    public SavedChart(string? path, string text, string data, string nameWithoutFile = NameOfDemo)
    {
        _keeper = new TextKeeper(data);
        _own = path ?? nameWithoutFile;
        _opened = ContentHash.Of(text);
        _hasFile = path is not null;
        if (path is not null)
        {
            _known[DurableFile.RealPath(path)] = ContentHash.Of(text);
        }
    }

    /// <summary>The content last read from or written to its own file; null for a chart without a file.</summary>
    public ContentHash? Content => _hasFile ? _known[DurableFile.RealPath(_own)] : null;

    /// <summary>Saves a text unless it would replace content that was not read here.</summary>
    /// <param name="text">The chart's text.</param>
    /// <param name="path">The file to write; null for its own file.</param>
    /// <param name="remark">A remark about the text for the message, after the file's name.</param>
    /// <param name="isPart">True if this text lacks something of the opened one; then the message always names that copy.</param>
    public ChangeAnswer Save(string text, string? path, string remark = "", bool isPart = false)
    {
        path ??= _own;
        var known = _known.TryGetValue(DurableFile.RealPath(path), out var hash) ? hash : (ContentHash?)null;
        return Said(path, _keeper.Save(path, text, known), remark, isPart);
    }

    /// <summary>Saves a text over the file that the last save refused to replace, and keeps a copy of that file.</summary>
    public ChangeAnswer SaveAnyway(string text, string remark = "", bool isPart = false) =>
        _changed is not { } changed ? Save(text, null, remark, isPart)
            : Said(changed.Path, _keeper.SaveAnyway(changed.Path, text, changed.Seen), remark, isPart);

    private ChangeAnswer Said(string path, SaveAnswer answer, string remark, bool isPart)
    {
        // With its folder, if that is not the chart's own.
        var name = InFolder(path) == InFolder(_own) ? Path.GetFileName(path) : path;
        _changed = null;
        switch (answer)
        {
            case SaveAnswer.Written written:
                var isKnown = _known.TryGetValue(written.Path, out var before) && before == written.Content && path == _own;
                _known[written.Path] = written.Content;
                if (isKnown && written.Backup is null)
                {
                    return new ChangeAnswer(true, "no changes to save");
                }

                if (written.HadIt)
                {
                    return new ChangeAnswer(true, $"nothing to save: {name} already has this text");
                }

                var opened = isPart ? TextKeeper.CopyOf(written.Path, _opened) : null;
                return new ChangeAnswer(true, $"saved in {name}{remark}{InCopy("old version", opened ?? written.Backup)}"
                    + (opened is null || opened == written.Backup ? string.Empty : InCopy("replaced version", written.Backup)));
            case SaveAnswer.ChangedOutside changed:
                _changed = (path, changed.Current);
                return new ChangeAnswer(false, Offer(name, changed, _known.ContainsKey(changed.Path)));
            case SaveAnswer.Refused refused:
                return new ChangeAnswer(false, "not saved: " + refused.Refusal.Message);
            default:
                throw new InvalidOperationException("A save has three results.");
        }
    }

    private static string? InFolder(string path) => Path.GetDirectoryName(Path.GetFullPath(path));

    private static string InCopy(string what, string? copy) => copy is null ? string.Empty : $"; {what} in {Path.GetFileName(copy)}";

    private static string Offer(string name, SaveAnswer.ChangedOutside changed, bool wasRead) => changed.Current is null
        ? $"not saved: {name} was deleted; 'save anyway' writes it again, 'save FILE' writes another file"
        : wasRead
            ? $"not saved: {name} was edited elsewhere; 'save anyway' replaces it and keeps it as {name}~, 'save FILE' writes another file"
            : $"not saved: {name} already exists; 'save anyway' replaces it and keeps it as {name}~, 'save FILE' writes another file";
}
