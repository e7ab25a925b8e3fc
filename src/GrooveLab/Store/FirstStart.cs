namespace GrooveLab.Store;

/// <summary>Whether this user plays for the first time; an empty file in the user's data folder marks later starts.</summary>
internal static class FirstStart
{
    private const string Marker = "played-before";

    /// <summary>True once for each user. If the mark cannot be written, true each time, so that the advice is always given.</summary>
    public static bool IsNow()
    {
        var file = Path.Combine(UserFolders.Data, Marker);
        if (File.Exists(file))
        {
            return false;
        }

        UserFolders.TryWrite(file, string.Empty);
        return true;
    }
}
